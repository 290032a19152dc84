package api

import (
	"context"
	"mime"
	"net/http"
	"slices"

	"winterstand/internal/service/commands"
)

type importFile struct {
	OnceKey
	Kind        string `query:"kind" enum:"beds,readings,lots" doc:"What the lines are; left out: told from the columns"`
	ContentType string `header:"Content-Type" doc:"text/csv"`
	RawBody     []byte `contentType:"text/csv"`
}

func (s *service) importRoutes() {
	o := op(http.MethodPost, "/v1/import", "import-file", "import", "Enter beds, readings or lots from a CSV file, all of it or nothing")
	o.Description = importHelp
	o.MaxBodyBytes, o.BodyReadTimeout = maxImport, importTimeout
	handle(s, o, s.importFile)
}

const importHelp = "The first line names the columns, in any order. Numbers have a decimal point, times are RFC 3339 with their zone, " +
	"an empty cell is missing, never zero. A field may be named by field_id or by field (its name), a room by room_id or room. " +
	"When any line is wrong nothing is stored and every wrong line is named."

func (s *service) importFile(ctx context.Context, farmID int64, in *importFile) (*made[commands.Imported], error) {
	if err := plainFile(in.ContentType); err != nil {
		return nil, err
	}
	return once(ctx, s, farmID, in.OnceKey, []any{"/v1/import", in.Kind, in.RawBody}, func(d commands.Service) (made[commands.Imported], error) {
		done, err := d.Import(ctx, farmID, in.Kind, in.RawBody)
		return made[commands.Imported]{Status: http.StatusCreated, Body: done}, err
	})
}

// plainFile refuses what is not sent as text.
func plainFile(contentType string) error {
	media, _, err := mime.ParseMediaType(contentType)
	allowed := []string{"text/csv", "application/csv", "text/plain", "application/octet-stream"}
	if contentType != "" && (err != nil || !slices.Contains(allowed, media)) {
		return problem(http.StatusUnsupportedMediaType, because("not_csv"))
	}
	return nil
}
