package crop

import (
	"sort"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

// lines tells on which line each key of a TOML file stands, by its dotted
// path; elements of an array are path[0], path[1], …
type lines map[string]int

func linesOf(src []byte) lines {
	f := finder{found: lines{}, breaks: lineBreaks(src)}
	p := unstable.Parser{}
	p.Reset(src)
	table := ""
	for p.NextExpression() {
		switch n := p.Expression(); n.Kind {
		case unstable.Table, unstable.ArrayTable:
			table = f.key(n.Key(), "")
		case unstable.KeyValue:
			f.pair(n, table)
		}
	}
	return f.found
}

// of is the line of a path or of the nearest table around it.
func (l lines) of(path string) int {
	for path != "" {
		if n, ok := l[path]; ok {
			return n
		}
		path = path[:max(0, strings.LastIndexAny(path, ".["))]
	}
	return 1
}

// path is the full path of a key on a line, the key alone where there is none.
func (l lines) path(line int, key string) string {
	for path, n := range l {
		if n == line && strings.HasSuffix(path, "."+key) {
			return path
		}
	}
	return key
}

type finder struct {
	found  lines
	breaks []int
}

func lineBreaks(src []byte) []int {
	var at []int
	for i, c := range src {
		if c == '\n' {
			at = append(at, i)
		}
	}
	return at
}

func (f finder) line(n *unstable.Node) int {
	return 1 + sort.SearchInts(f.breaks, int(n.Raw.Offset))
}

func (f finder) key(it unstable.Iterator, at string) string {
	for it.Next() {
		k := it.Node()
		at = strings.TrimPrefix(at+"."+string(k.Data), ".")
		if _, known := f.found[at]; !known {
			f.found[at] = f.line(k)
		}
	}
	return at
}

func (f finder) pair(n *unstable.Node, at string) {
	path := f.key(n.Key(), at)
	f.value(n.Value(), path)
}

func (f finder) value(v *unstable.Node, path string) {
	switch v.Kind {
	case unstable.InlineTable:
		for it := v.Children(); it.Next(); {
			f.pair(it.Node(), path)
		}
	case unstable.Array:
		i := 0
		for it := v.Children(); it.Next(); i++ {
			f.value(it.Node(), path+"["+strconv.Itoa(i)+"]")
		}
	}
}
