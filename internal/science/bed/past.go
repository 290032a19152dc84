package bed

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"winterstand/internal/science/microclimate"
	"winterstand/internal/weather"
)

// Book is the state of a class and its plants up to an hour. It is a pure
// function of the class, the plants and the hours: saved and resumed it gives
// the same bits as straight through.
type Book struct {
	Ground microclimate.Ground `json:"ground"`
	Plants map[string]State    `json:"plants"` // by Plant.Key
}

// NewBook starts a class at an hour.
func NewBook(c *Class, plants []Plant, at time.Time) Book {
	b := Book{Ground: microclimate.NewGround(c.Site, at), Plants: map[string]State{}}
	for _, p := range plants {
		began := at
		if p.Since.After(at) {
			began = p.Since
		}
		b.Plants[p.Key()] = p.NewState(c.Site.Latitude, began)
	}
	return b
}

// Holds tells whether the book knows all these plants.
func (b *Book) Holds(plants []Plant) bool { return b.knows(plants) == nil }

// ErrStranger: the book does not know a plant.
var ErrStranger = errors.New("plant is not in the book")

// Advance takes the class and its plants through hours that have passed. The
// first hour must be the ground's next. It stops at the first hour that cannot
// be taken and names it; the book then holds up to there. Plants that are not
// among them leave the book: their state would stand still.
func (b *Book) Advance(c *Class, plants []Plant, hours []weather.Hour) error {
	if err := b.knows(plants); err != nil {
		return err
	}
	y := partyOf(once(plants))
	maps.DeleteFunc(b.Plants, func(key string, _ State) bool { return !slices.Contains(y.keys, key) })
	felt := make([]Tissue, len(y.plants))
	for _, h := range hours {
		if err := b.step(c, &y, felt, h); err != nil {
			return fmt.Errorf("past hour %s: %w", h.At.UTC().Format(time.RFC3339), err)
		}
	}
	return nil
}

func (b *Book) knows(plants []Plant) error {
	for _, p := range plants {
		if _, ok := b.Plants[p.Key()]; !ok {
			return fmt.Errorf("%s: %w", p.Crop.Name, ErrStranger)
		}
	}
	return nil
}

// once leaves out plants that are equal in all that their state depends on:
// they share one, which must be stepped once.
func once(plants []Plant) []Plant {
	seen := map[string]bool{}
	out := make([]Plant, 0, len(plants))
	for _, p := range plants {
		if key := p.Key(); !seen[key] {
			seen[key] = true
			out = append(out, p)
		}
	}
	return out
}

func (b *Book) step(c *Class, y *party, felt []Tissue, h weather.Hour) error {
	on := c.Dressing(h.At)
	h = c.At(h)
	if err := b.Ground.Step(&c.Site, on, h); err != nil {
		return err
	}
	if err := y.feel(felt, &b.Ground, &c.Site, on, h); err != nil {
		return err
	}
	air, _ := h.Air.Get()
	for i := range y.plants {
		p := &y.plants[i]
		if h.At.Before(p.Since) {
			continue
		}
		s, err := y.after(i, b.Plants[y.keys[i]], felt[i], 0)
		if err != nil {
			return err
		}
		b.Plants[y.keys[i]] = p.note(s, h.At, air)
	}
	return nil
}

// Save writes the book.
func (b Book) Save() ([]byte, error) {
	out, err := json.Marshal(b)
	if err != nil {
		return nil, fmt.Errorf("save book: %w", err)
	}
	return out, nil
}

// Open reads a saved book.
func Open(body []byte) (Book, error) {
	var b Book
	if err := json.Unmarshal(body, &b); err != nil {
		return b, fmt.Errorf("open book: %w", err)
	}
	return b, nil
}
