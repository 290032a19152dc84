package row

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"time"

	"winterstand/internal/weather"
)

// pack compresses a forecast: gzip of its JSON.
func pack(f weather.Forecast) (any, error) {
	if err := finite(f); err != nil {
		return nil, err
	}
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	if err := errors.Join(json.NewEncoder(z).Encode(f), z.Close()); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// packed reads what pack has written.
type packed struct{ to *weather.Forecast }

func (p packed) Scan(src any) error {
	body, ok := src.([]byte)
	if !ok {
		return fmt.Errorf("forecast: must be bytes, not %T", src)
	}
	f, err := unpack(body)
	*p.to = f
	return err
}

func unpack(body []byte) (f weather.Forecast, err error) {
	z, err := gzip.NewReader(bytes.NewReader(body))
	if err != nil {
		return f, err
	}
	plain, err := io.ReadAll(z)
	if err != nil {
		return f, err
	}
	err = json.Unmarshal(plain, &f)
	return f, err
}

// finite names the first value of a forecast that is not a number.
func finite(f weather.Forecast) error {
	for layer, course := range f.Layers {
		if err := finiteCourse("layer "+string(layer), course); err != nil {
			return err
		}
	}
	for _, m := range f.Members {
		if err := finiteCourse("member "+m.Name, m.Air); err != nil {
			return err
		}
	}
	return nil
}

func finiteCourse(name string, course []weather.Interval) error {
	for _, i := range course {
		if v, ok := i.Value.Get(); ok && (math.IsNaN(v) || math.IsInf(v, 0)) {
			return fmt.Errorf("%s at %s: must be a finite number, not %v", name, i.Start.UTC().Format(time.RFC3339), v)
		}
	}
	return nil
}
