// Package farm holds the nouns of the job: farm, field, bed, recipient,
// reading, finding, room, lot. Plain values; what they mean stands beside them.
package farm

import (
	"time"

	"winterstand/internal/unit"
)

// Farm is the account.
type Farm struct {
	ID             int64
	Name           string
	Units          unit.System
	Language       string // of the phrase files: "en"
	TimeZone       string // IANA, of its lists and letters; empty: that of its first field, see Zone
	Currency       string // ISO 4217
	NoticeLead     time.Duration
	MovedStep      time.Duration
	BlindAfter     time.Duration
	WindChillLimit unit.Celsius
	StillWatching  bool // weekly sign of life
	Crew           []Shift
	Wanted         []Want
	CalendarSecret string
	CreatedAt      time.Time
	Version        int64 // for ETag / If-Match; a change must name the version it saw
}

// Defaults of a new farm, from the contract.
const (
	DefaultNoticeLead     = 72 * time.Hour
	DefaultMovedStep      = 6 * time.Hour
	DefaultBlindAfter     = 24 * time.Hour
	DefaultWindChillLimit = unit.Celsius(-20)
)

// New is a farm with the contract's defaults.
func New(name string, now time.Time) Farm {
	return Farm{
		Name: name, Units: unit.Metric, Language: "en", Currency: "USD",
		NoticeLead: DefaultNoticeLead, MovedStep: DefaultMovedStep, BlindAfter: DefaultBlindAfter,
		WindChillLimit: DefaultWindChillLimit, StillWatching: true, CreatedAt: now,
	}
}

// Shift is crew time: people on one weekday from and to a local clock time "15:04".
type Shift struct {
	Day    string  `json:"day"` // mon, tue, wed, thu, fri, sat, sun
	From   string  `json:"from"`
	To     string  `json:"to"`
	People float64 `json:"people"`
}

// Want is what is wanted of one crop each week between two days.
type Want struct {
	Crop      string  `json:"crop"`
	KgPerWeek float64 `json:"kg_per_week"`
	From      Day     `json:"from"`
	To        Day     `json:"to"`
}

// Field is a place with one point forecast.
type Field struct {
	ID        int64
	FarmID    int64
	Name      string
	Latitude  float64
	Longitude float64
	Elevation unit.Maybe[float64] // m
	Soil      string              // a key of microclimate's soil classes; empty: DefaultSoil
	LowSpot   unit.Kelvins        // how much colder its low nights run than the forecast, positive
	TimeZone  string              // IANA; empty: that of its place, see PlaceOf
	CreatedAt time.Time
	RemovedAt unit.Maybe[time.Time]
	Version   int64
}

// Purpose is what the bed is for; it sets the default cost–loss ratio.
type Purpose string

// Purposes of the contract.
const (
	Fresh      Purpose = "fresh"
	Storing    Purpose = "store"
	Overwinter Purpose = "overwinter"
	Household  Purpose = "household"
)

// CostLoss is the default share C/L at which it pays to act (02-science §5).
func (p Purpose) CostLoss() float64 {
	switch p {
	case Storing:
		return 0.15
	case Overwinter:
		return 0.5
	case Household:
		return 0.3
	}
	return 0.2
}

// Cover lies over a bed from one day to another (exclusive); no Off: still on.
type Cover struct {
	Kind string `json:"kind"` // a key of microclimate's covers
	On   Day    `json:"on"`
	Off  Day    `json:"off,omitempty"`
}

// Mulch is straw of a depth from a day on until the next entry of the list.
type Mulch struct {
	Cm float64 `json:"cm"`
	On Day     `json:"on,omitempty"` // empty: since before anything is known
}

// Bed is a strip of a field with one standing crop.
type Bed struct {
	ID            int64
	FarmID        int64
	FieldID       int64
	Name          string
	Crop          string
	Variety       string
	Purpose       Purpose
	SownOn        unit.Maybe[Day]
	StandingKg    unit.Maybe[float64]
	PricePerKg    unit.Maybe[float64]
	LiftKgPerHour unit.Maybe[float64] // per person
	CostLossSet   unit.Maybe[float64]
	ToleranceSet  unit.Maybe[unit.Kelvins] // grower's own shift of the tolerance, K; negative is hardier
	Covers        []Cover
	Mulches       []Mulch
	CreatedAt     time.Time
	ClearedAt     unit.Maybe[time.Time] // set: the bed has ended, history stays
	QuietUntil    unit.Maybe[time.Time] // the grower answered "leave it": no further asking for that night
	Version       int64
}

// Sown is the day of sowing that counts on a day. One that lies ahead is a slip
// and counts for nothing: a bed in the book stands.
func (b Bed) Sown(today Day) unit.Maybe[Day] {
	if day, ok := b.SownOn.Get(); ok && day > today {
		return unit.None[Day]()
	}
	return b.SownOn
}

// CostLoss is the bed's own ratio, else its purpose's.
func (b Bed) CostLoss() float64 { return b.CostLossSet.Else(b.Purpose.CostLoss()) }

// CoverOn is the cover that lies on the bed on a day, "none" when there is none.
// Where several overlap the one put on last counts.
func (b Bed) CoverOn(d Day) string {
	kind, since := "none", Day("")
	for _, c := range b.Covers {
		if c.On <= d && (c.Off == "" || d < c.Off) && c.On >= since {
			kind, since = c.Kind, c.On
		}
	}
	return kind
}

// MulchOn is the depth of straw on a day, in cm.
func (b Bed) MulchOn(d Day) float64 {
	cm, since := 0.0, Day("")
	for _, m := range b.Mulches {
		if m.On <= d && m.On >= since {
			cm, since = m.Cm, m.On
		}
	}
	return cm
}

// Recipient is a person who is told.
type Recipient struct {
	ID        int64
	FarmID    int64
	Name      string
	Email     string
	Phone     string // E.164
	Language  string
	Units     unit.System
	QuietFrom string // local "15:04"; empty: none
	QuietTo   string
	Kinds     []string // notice kinds wanted; empty: all
	MutedSMS  bool     // has sent STOP
	MutedMail []string // kinds unsubscribed from by mail
	CreatedAt time.Time
	RemovedAt unit.Maybe[time.Time]
	Version   int64
}

// Reading quantities of the contract.
const (
	ReadAirMin    = "air_min_c"
	ReadAir       = "air_c"
	ReadSnowDepth = "snow_depth_cm"
	ReadSoil      = "soil_c"
)

// Reading is what a thermometer or a ruler said.
type Reading struct {
	ID       int64
	FarmID   int64
	FieldID  int64
	At       time.Time // for air_min_c: any time in the morning after; the night is NightOf(At)
	Quantity string
	DepthCm  unit.Maybe[float64]
	Value    float64
}

// Finding is what the grower saw after a freeze.
type Finding struct {
	ID           int64
	FarmID       int64
	BedID        int64
	Night        Day
	LostFraction float64
	Note         string
	CreatedAt    time.Time
}

// Room kinds of the contract.
const (
	ColdStore = "cold_store"
	Fridge    = "fridge"
	Airy      = "airy"
	Freezer   = "freezer"
	Ripening  = "ripening"
	Cellar    = "cellar"
)

// Room is where lots are kept.
type Room struct {
	ID          int64
	FarmID      int64
	Name        string
	Kind        string
	Temperature unit.Celsius
	Humidity    unit.Maybe[float64] // fraction 0..1
	CapacityKg  unit.Maybe[float64]
	CreatedAt   time.Time
	RemovedAt   unit.Maybe[time.Time]
	Version     int64
}

// Lot is one harvest of one crop in a room.
type Lot struct {
	ID          int64
	FarmID      int64
	RoomID      int64
	Crop        string
	Variety     string
	Kg          float64 // what is left
	HarvestedAt time.Time
	Container   string // open, tote, bag, crate, hung
	CuredAt     unit.Maybe[time.Time]
	FromBedID   int64 // 0: none
	CreatedAt   time.Time
	EndedAt     unit.Maybe[time.Time] // sold out, eaten or spoiled
	Version     int64
}

// Answer to a notice.
const (
	Harvested = "harvested"
	Covered   = "covered"
	LeaveIt   = "leave_it"
	Seen      = "seen"
)

// Answer is what a reader said about a notice.
type Answer struct {
	ID          int64
	FarmID      int64
	NoticeID    int64
	BedID       int64 // 0: none
	RecipientID int64 // 0: by API
	Answer      string
	HarvestedKg unit.Maybe[float64]
	At          time.Time
}

// Token scopes.
const (
	ScopeRead  = "read"
	ScopeWrite = "write"
)

// Token is a bearer token as it is kept: only its hash.
type Token struct {
	FarmID    int64
	Hash      string // hex SHA-256 of the token
	Scope     string
	CreatedAt time.Time
	RevokedAt unit.Maybe[time.Time]
}
