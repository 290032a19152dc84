package api

import (
	"context"
	"net/http"
	"time"

	"winterstand/internal/service/commands"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// Field is a place with one point forecast.
type Field struct {
	ID        int64                 `json:"id"`
	Name      string                `json:"name"`
	Latitude  float64               `json:"latitude" doc:"Degrees north"`
	Longitude float64               `json:"longitude" doc:"Degrees east"`
	Elevation unit.Maybe[float64]   `json:"elevation_m,omitzero" doc:"Metres above the sea"`
	Soil      string                `json:"soil"`
	LowSpot   unit.Kelvins          `json:"low_spot_k" doc:"How much colder its low nights run than the forecast, K"`
	TimeZone  string                `json:"time_zone,omitempty" doc:"IANA; left out: that of its place"`
	Placed    bool                  `json:"placed" doc:"It has its forecast point"`
	CreatedAt time.Time             `json:"created_at"`
	RemovedAt unit.Maybe[time.Time] `json:"removed_at,omitzero"`
	Version   int64                 `json:"version"`
}

func fieldView(f store.Field) Field {
	return Field{
		ID: f.ID, Name: f.Name, Latitude: f.Latitude, Longitude: f.Longitude, Elevation: f.Elevation, Soil: f.Soil,
		LowSpot: f.LowSpot, TimeZone: f.TimeZone, Placed: f.CellID != 0, CreatedAt: f.CreatedAt.UTC(),
		RemovedAt: utc(f.RemovedAt), Version: f.Version,
	}
}

func utc(t unit.Maybe[time.Time]) unit.Maybe[time.Time] {
	if v, ok := t.Get(); ok {
		return unit.Some(v.UTC())
	}
	return t
}

// NewField is a field to be made.
type NewField commands.FieldInput

func (s *service) fieldRoutes() {
	handle(s, op(http.MethodGet, "/v1/fields", "list-fields", "fields", "Fields of the farm"), s.listFields)
	handle(s, op(http.MethodPost, "/v1/fields", "add-field", "fields", "Make a field"), s.addField)
	handle(s, op(http.MethodGet, "/v1/fields/{id}", "get-field", "fields", "One field"), s.getField)
	handle(s, op(http.MethodPatch, "/v1/fields/{id}", "change-field", "fields", "Change a field: members given are changed, null empties"), s.changeField)
	handle(s, op(http.MethodDelete, "/v1/fields/{id}", "remove-field", "fields", "Take a field off the lists; its history stays"), s.removeField)
}

func (s *service) listFields(ctx context.Context, farmID int64, in *Paging) (*listed[Field], error) {
	fields, err := s.Commands.Store.Fields(ctx, farmID, in.ask())
	if err != nil {
		return nil, err
	}
	return listOf(*in, "/v1/fields", "", fields, func(f store.Field) int64 { return f.ID }, fieldView), nil
}

func (s *service) addField(ctx context.Context, farmID int64, in *post[NewField]) (*made[Field], error) {
	return once(ctx, s, farmID, in.OnceKey, []any{"/v1/fields", in.Body}, func(d commands.Service) (made[Field], error) {
		f, err := d.AddField(ctx, farmID, commands.FieldInput(in.Body))
		return created("/v1/fields", f.ID, f.Version, fieldView(f)), err
	})
}

func (s *service) getField(ctx context.Context, farmID int64, in *ByID) (*one[Field], error) {
	f, err := s.Commands.Store.Field(ctx, farmID, in.ID)
	return &one[Field]{etag(f.Version), fieldView(f)}, err
}

func (s *service) changeField(ctx context.Context, farmID int64, in *changeByID[commands.FieldInput]) (out *one[Field], err error) {
	err = change(in.IfMatch, func(seen commands.Seen) error {
		f, err := s.Commands.ChangeField(ctx, farmID, in.ID, seen, in.Body)
		out = &one[Field]{etag(f.Version), fieldView(f)}
		return err
	})
	return out, err
}

func (s *service) removeField(ctx context.Context, farmID int64, in *removeByID) (*nothing, error) {
	return &nothing{}, change(in.IfMatch, func(seen commands.Seen) error {
		return s.Commands.RemoveField(ctx, farmID, in.ID, seen)
	})
}
