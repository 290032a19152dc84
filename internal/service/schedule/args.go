package schedule

import (
	"context"
	"fmt"

	"github.com/riverqueue/river"
)

type messageArgs struct {
	ID int64 `json:"id"`
}

type cellArgs struct {
	ID    int64 `json:"id"`
	Burst int64 `json:"burst"` // start of the span that changes are gathered in, Unix ms
}

type fieldArgs struct {
	ID    int64 `json:"id"`
	Burst int64 `json:"burst"` // as of cellArgs
}

type (
	pollArgs   struct{}
	sweepArgs  struct{}
	dailyArgs  struct{}
	weeklyArgs struct{}
)

func (messageArgs) Kind() string { return "message" }
func (cellArgs) Kind() string    { return "cell" }
func (fieldArgs) Kind() string   { return "field" }
func (pollArgs) Kind() string    { return "poll" }
func (sweepArgs) Kind() string   { return "sweep" }
func (dailyArgs) Kind() string   { return "daily" }
func (weeklyArgs) Kind() string  { return "weekly" }

// work turns a function into a worker that tells what it has taken in hand.
func work[A river.JobArgs](taken func(job string) func(), do func(context.Context, A) error) river.Worker[A] {
	return river.WorkFunc(func(ctx context.Context, job *river.Job[A]) error {
		defer taken(fmt.Sprintf("job %s %s", job.Kind, job.EncodedArgs))()
		if err := do(ctx, job.Args); err != nil {
			return fmt.Errorf("%s: %w", job.Kind, err)
		}
		return nil
	})
}
