// Package store says what is written down and what each entry promises. The
// two stores implement it; everything above speaks only to these interfaces.
//
// Instants are kept as Unix seconds UTC, days as text 2006-01-02. Every method
// may return a driver error wrapped with what was attempted; the sentinel
// errors below are the only ones a caller tells apart.
package store

import (
	"context"
	"encoding/json"
	"errors"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// Sentinel errors.
var (
	ErrNotFound = errors.New("not found")
	ErrChanged  = errors.New("changed meanwhile") // the version named is not the stored one
	ErrExists   = errors.New("exists already")
)

// Store is the whole book.
type Store interface {
	Reader
	// Write runs fn in one transaction; an error of fn rolls everything back,
	// jobs included. fn may run again after a deadlock: it assigns, it does not
	// append to what it was given. Keep it short: on SQLite the job queue waits.
	Write(ctx context.Context, fn func(Writer) error) error
	Ping(ctx context.Context) error
	Close() error
}

// Reader answers questions. Rows of another farm are ErrNotFound, never shown.
// Lists come by ascending ID unless said otherwise; removed entries are left
// out of lists but still found by ID.
type Reader interface {
	Farm(ctx context.Context, id int64) (farm.Farm, error)
	FarmByName(ctx context.Context, name string) (farm.Farm, error)
	FarmByCalendar(ctx context.Context, secret string) (farm.Farm, error)
	Farms(ctx context.Context, page Page) ([]farm.Farm, error)
	Token(ctx context.Context, hash string) (farm.Token, error) // revoked: ErrNotFound

	Field(ctx context.Context, farmID, id int64) (Field, error)
	Fields(ctx context.Context, farmID int64, page Page) ([]Field, error)
	Bed(ctx context.Context, farmID, id int64) (farm.Bed, error)
	Beds(ctx context.Context, farmID int64, f BedFilter) ([]farm.Bed, error)
	Recipient(ctx context.Context, farmID, id int64) (farm.Recipient, error)
	Recipients(ctx context.Context, farmID int64, page Page) ([]farm.Recipient, error)
	RecipientsByPhone(ctx context.Context, phone string) ([]farm.Recipient, error)
	RecipientsByEmail(ctx context.Context, email string) ([]farm.Recipient, error)
	Room(ctx context.Context, farmID, id int64) (farm.Room, error)
	Rooms(ctx context.Context, farmID int64, page Page) ([]farm.Room, error)
	Lot(ctx context.Context, farmID, id int64) (farm.Lot, error)
	Lots(ctx context.Context, farmID int64, page Page) ([]farm.Lot, error) // not ended
	// Readings of a field, by At ascending, At in [from, to).
	Readings(ctx context.Context, farmID, fieldID int64, from, to time.Time) ([]farm.Reading, error)
	// Findings of a farm, by ID; bedID 0: all beds.
	Findings(ctx context.Context, farmID, bedID int64) ([]farm.Finding, error)

	Notice(ctx context.Context, farmID, id int64) (Notice, error)
	Notices(ctx context.Context, farmID int64, f NoticeFilter) ([]Notice, error) // newest first
	Answers(ctx context.Context, farmID, noticeID int64) ([]farm.Answer, error)

	// Message gives one message with its notices and recipient.
	Message(ctx context.Context, id int64) (Message, error)
	MessageByKey(ctx context.Context, key string) (Message, error)
	// Messages of a farm, newest first.
	Messages(ctx context.Context, farmID int64, page Page) ([]Message, error)
	// Overdue are queued messages whose NotBefore is at or before t, by ID.
	Overdue(ctx context.Context, t time.Time, limit int) ([]int64, error)

	Cell(ctx context.Context, id int64) (Cell, error)
	CellByKey(ctx context.Context, key string) (Cell, error)
	// CellsInUse are the cells that hold a field with a standing bed.
	CellsInUse(ctx context.Context) ([]Cell, error)
	// UnplacedFields have no cell yet.
	UnplacedFields(ctx context.Context) ([]Field, error)
	FieldsOfCell(ctx context.Context, cellID int64) ([]Field, error)
	// BedsOfCell are the standing beds of all fields of a cell, whatever the farm.
	BedsOfCell(ctx context.Context, cellID int64) ([]farm.Bed, error)

	// LastForecast is the newest by Issued of one source for a cell.
	LastForecast(ctx context.Context, cellID int64, source string) (Forecast, error)
	Forecast(ctx context.Context, id int64) (Forecast, error)

	// Hours of a cell with At in [from, to), ascending, the strongest origin for each.
	Hours(ctx context.Context, cellID int64, from, to time.Time) ([]weather.Hour, error)
	// Checkpoints of a cell by class.
	Checkpoints(ctx context.Context, cellID int64) (map[string]Checkpoint, error)

	// Verdict is the latest of one bed.
	Verdict(ctx context.Context, bedID int64) (Verdict, error)
	// Verdicts are the latest of all standing beds of a farm, by bed ID.
	Verdicts(ctx context.Context, farmID int64) (map[int64]Verdict, error)
	// VerdictsOfCell are the latest of all standing beds of a cell, by bed ID.
	VerdictsOfCell(ctx context.Context, cellID int64) (map[int64]Verdict, error)
	// Judgements of a farm (0: all) for nights in [from, to], by ID.
	Judgements(ctx context.Context, farmID int64, from, to farm.Day) ([]Judgement, error)

	Memo(ctx context.Context, owner, kind string) (json.RawMessage, error)
	// Memos of one kind by owner.
	Memos(ctx context.Context, kind string) (map[string]json.RawMessage, error)
	// Reply is what was answered to an Idempotency-Key before.
	Reply(ctx context.Context, farmID int64, key string) (Reply, error)
	Session(ctx context.Context, hash string) (Session, error)
	// Counts are the figures for the metrics page.
	Counts(ctx context.Context) (Counts, error)
}

// Writer changes things inside one transaction. Add… methods give the new ID.
// Update… methods need the version that the caller saw (else ErrChanged) and
// raise it by one.
type Writer interface {
	Reader

	AddFarm(ctx context.Context, f farm.Farm) (int64, error) // ErrExists: the name is taken
	UpdateFarm(ctx context.Context, f farm.Farm) error
	AddToken(ctx context.Context, t farm.Token) error
	RevokeToken(ctx context.Context, hash string, at time.Time) error

	AddField(ctx context.Context, f farm.Field) (int64, error)
	UpdateField(ctx context.Context, f farm.Field) error
	PlaceField(ctx context.Context, fieldID, cellID int64) error
	AddBed(ctx context.Context, b farm.Bed) (int64, error)
	UpdateBed(ctx context.Context, b farm.Bed) error
	AddRecipient(ctx context.Context, r farm.Recipient) (int64, error)
	UpdateRecipient(ctx context.Context, r farm.Recipient) error
	AddRoom(ctx context.Context, r farm.Room) (int64, error)
	UpdateRoom(ctx context.Context, r farm.Room) error
	AddLot(ctx context.Context, l farm.Lot) (int64, error)
	UpdateLot(ctx context.Context, l farm.Lot) error
	AddReadings(ctx context.Context, rs []farm.Reading) ([]int64, error)
	AddFinding(ctx context.Context, f farm.Finding) (int64, error)

	// AddNotice writes a notice once per (farm, subject, night, kind, revision):
	// a second one is ErrExists and leaves the transaction usable.
	AddNotice(ctx context.Context, n Notice) (int64, error)
	AddAnswer(ctx context.Context, a farm.Answer) (int64, error)
	// AddMessage writes a message once per key (ErrExists, transaction usable).
	AddMessage(ctx context.Context, m Message) (int64, error)
	// MarkMessage writes State, Attempts, LastError, NotBefore, SentAt.
	MarkMessage(ctx context.Context, m Message) error

	SaveCell(ctx context.Context, c Cell) (int64, error) // insert or update by Key
	// AddForecast writes a document once per (cell, source, issued); the same
	// issue again updates its validators and Checked, and gives the old ID.
	AddForecast(ctx context.Context, f Forecast) (int64, error)
	// PutHours keeps for each quantity of each hour what the strongest origin
	// knows of it; the same origin again replaces what it knows.
	PutHours(ctx context.Context, cellID int64, origin weather.Origin, hours []weather.Hour) error
	// CopyHours copies the history of a cell to another, where that has none.
	CopyHours(ctx context.Context, from, to int64) error
	SaveCheckpoints(ctx context.Context, cellID int64, byClass map[string]Checkpoint) error
	// DropCheckpoints of a cell that hold past t: its history changed there.
	DropCheckpoints(ctx context.Context, cellID int64, t time.Time) error
	SaveVerdicts(ctx context.Context, vs []Verdict) error
	// AddJudgements keeps the first per (bed, night, lead days).
	AddJudgements(ctx context.Context, js []Judgement) error
	// ScoreJudgement writes what the night brought, for all leads of (bed, night).
	ScoreJudgement(ctx context.Context, bedID int64, night farm.Day, lost, airMin float64) error

	SetMemo(ctx context.Context, owner, kind string, body json.RawMessage, now time.Time) error
	DropMemo(ctx context.Context, owner, kind string) error
	Remember(ctx context.Context, r Reply) error
	AddSession(ctx context.Context, s Session) error
	DropSession(ctx context.Context, hash string) error
	// UseOnce is true the first time a key is seen, false after.
	UseOnce(ctx context.Context, key string, until time.Time) (bool, error)
	// Secret of a name, made (32 random bytes) when it is asked for first.
	Secret(ctx context.Context, name string) ([]byte, error)
	// Prune forgets what is past its use: replies, sessions and one-time keys
	// ended before now; forecasts and checkpoints older than keep that no
	// notice rests on, but never the newest of a cell and source; hours older
	// than two years.
	Prune(ctx context.Context, now time.Time, keep time.Duration) error

	// Enqueue adds jobs in the same transaction.
	Enqueue(ctx context.Context, jobs ...Job) error
}

// Page is a slice of a list: entries after a cursor (for newest-first lists:
// before it). Zero After: from the start; zero Limit: all.
type Page struct {
	After int64
	Limit int
}

// BedFilter narrows Beds.
type BedFilter struct {
	Page
	FieldID int64 // 0: all
	Cleared bool  // cleared ones too
}

// NoticeFilter narrows Notices.
type NoticeFilter struct {
	Page
	BedID   int64
	FieldID int64
	Kind    string
	From    time.Time // zero: no limit
	To      time.Time
}

// Field is a field with the cell whose forecast and history it shares; 0: not yet.
type Field struct {
	farm.Field
	CellID int64
}

// Cell is a forecast point that fields share. Sources holds, by source name,
// what that source needs to fetch it.
type Cell struct {
	ID         int64
	Key        string // "nws:FGZ/74,89"
	Latitude   float64
	Longitude  float64
	Elevation  unit.Maybe[float64]
	TimeZone   string
	Sources    map[string]json.RawMessage
	Warnings   []string
	ResolvedAt time.Time
}

// Forecast is one issued document of one source for a cell.
type Forecast struct {
	ID           int64
	CellID       int64
	Source       string
	Issued       time.Time
	Fetched      time.Time // when its bytes came
	Checked      time.Time // when it was last confirmed to be the newest
	Expires      time.Time // do not ask before; zero: unknown
	LastModified string
	ETag         string
	Body         weather.Forecast // kept compressed
}

// Checkpoint is a state computed from a cell's history up to an hour. It is a
// cache of a deterministic computation: losing it costs time, nothing else.
type Checkpoint struct {
	AsOf time.Time
	Body []byte
}

// Verdict is the latest judgement of a bed with the record of what was told.
type Verdict struct {
	BedID int64
	Kept  farm.Kept
	Event farm.Event
}

// Judgement is one night of one bed as judged some days before, for scoring.
type Judgement struct {
	ID         int64
	FarmID     int64
	BedID      int64
	Crop       string
	Night      farm.Day
	LeadDays   int
	IssuedAt   time.Time
	Likelihood float64
	CostLoss   float64
	Acted      bool // a notice stood for this night
	AirMinC    float64
	Lost       unit.Maybe[float64] // scored after the night
	AirMinWas  unit.Maybe[float64]
}

// Notice is one message about a bed, field, lot, room or recipient; kept for ever.
type Notice struct {
	ID            int64
	FarmID        int64
	Subject       string // "bed:7", "field:3", "lot:2", "room:1", "recipient:5", "farm:1"
	FieldID       int64  // 0: none
	BedID         int64
	Kind          string
	Night         farm.Day // of an event without a night: the day it began
	Revision      int
	IssuedAt      time.Time
	HarvestBefore unit.Maybe[time.Time]
	Likelihood    unit.Maybe[float64]
	ForecastID    int64
	Facts         json.RawMessage // notice.Facts: all that the words need and what it was decided on
	Answer        string          // the latest answer; empty: none
	AnsweredAt    unit.Maybe[time.Time]
}

// Channels.
const (
	Email = "email"
	SMS   = "sms"
)

// Message states.
const (
	Queued  = "queued"
	Sent    = "sent"
	GivenUp = "given_up"
	Dropped = "dropped" // no longer wanted when its time came: answered, cleared, muted
)

// Message is one mail or SMS to one recipient, carrying one or more notices.
type Message struct {
	ID          int64
	FarmID      int64
	RecipientID int64
	Channel     string
	Key         string // stable on every try: Message-ID and Idempotency-Key are made of it
	Test        bool   // a test message: no notices
	NoticeIDs   []int64
	State       string
	Attempts    int
	LastError   string
	CreatedAt   time.Time
	NotBefore   time.Time
	SentAt      unit.Maybe[time.Time]
}

// Job is work to be done after the transaction. Exactly one of the IDs is set.
type Job struct {
	MessageID int64
	CellID    int64     // poll and judge this cell
	FieldID   int64     // place this field, then judge its cell
	At        time.Time // zero: at once
}

// Reply remembers an answer for an Idempotency-Key.
type Reply struct {
	FarmID      int64
	Key         string
	RequestHash string
	Status      int
	Header      map[string]string
	Body        []byte
	Until       time.Time
}

// Session is a signed-in browser.
type Session struct {
	Hash        string
	FarmID      int64
	RecipientID int64 // 0: signed in by token
	Scope       string
	CSRF        string
	Until       time.Time
}

// Counts are totals over the whole book.
type Counts struct {
	Farms, Fields, Beds, Cells            int64
	Notices                               int64
	MessagesQueued, MessagesSent, GivenUp int64
	OldestQueued                          unit.Maybe[time.Time]
	OldestForecast                        unit.Maybe[time.Time] // least recent newest forecast among cells in use
}
