package store

import (
	"context"
	"time"

	"winterstand/internal/unit"
)

// MessageReader finds mails and short messages.
type MessageReader interface {
	// Message gives one message with its notices and recipient.
	Message(ctx context.Context, id int64) (Message, error)
	MessageByKey(ctx context.Context, key string) (Message, error)
	// Messages of a farm, newest first.
	Messages(ctx context.Context, farmID int64, page Page) ([]Message, error)
	// Overdue are queued messages whose NotBefore is at or before t, by ID.
	Overdue(ctx context.Context, t time.Time, limit int) ([]int64, error)
}

// MessageWriter changes them.
type MessageWriter interface {
	// AddMessage writes a message once per key (ErrExists, transaction usable).
	AddMessage(ctx context.Context, m Message) (int64, error)
	// MarkMessage writes State, Attempts, LastError, NotBefore, SentAt.
	MarkMessage(ctx context.Context, m Message) error
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
