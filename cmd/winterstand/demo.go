package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"winterstand/internal/trial/rehearsal"
)

type demoFlags struct {
	once, asJSON, verbose bool
	listen                string
	hour                  time.Duration
}

func newDemo() *cobra.Command {
	var f demoFlags
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Try it on an invented farm, all of it on this machine",
		Args:  only(0, "demo takes none"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if f.asJSON && !f.once {
				return bad(errors.New("--json goes with --once"))
			}
			if f.hour < leastHour {
				return bad(fmt.Errorf("--hour %s: must be at least %s, like 20s", f.hour, leastHour))
			}
			if f.once {
				return playOnce(cmd, f)
			}
			return playLive(cmd, f)
		},
	}
	cmd.Flags().BoolVar(&f.once, "once", false, "play one winter at speed, print every notice as it leaves, and exit")
	cmd.Flags().BoolVar(&f.asJSON, "json", false, "with --once: one JSON object a line")
	cmd.Flags().BoolVar(&f.verbose, "verbose", false, "also print the service's log")
	cmd.Flags().StringVar(&f.listen, "listen", "127.0.0.1:8080", "address of the pages and the API")
	cmd.Flags().DurationVar(&f.hour, "hour", 20*time.Second, "how long an hour of the story takes, without --once")
	return cmd
}

func (f demoFlags) log(errOut io.Writer) *slog.Logger {
	if f.verbose {
		return slog.New(slog.NewTextHandler(errOut, nil))
	}
	return slog.New(slog.NewTextHandler(errOut, &slog.HandlerOptions{Level: slog.LevelError}))
}

// rememberedDays of past weather that the demo's grower has brought along.
const rememberedDays = 90

// leastHour is the shortest an hour of the story may take: a round must fit in.
const leastHour = 100 * time.Millisecond

// playStep is the clock's step between rounds when a winter is played at speed.
const playStep = 6 * time.Hour

func playOnce(cmd *cobra.Command, f demoFlags) (err error) {
	stage, err := rehearsal.Raise(cmd.Context(), rehearsal.Options{Winter: rehearsal.Story(), From: rehearsal.Opening, Listen: "127.0.0.1:0", Log: f.log(cmd.ErrOrStderr())})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, stage.Strike()) }()
	out := cmd.OutOrStdout()
	line := func(v any, text string) {
		if f.asJSON {
			body, err := json.Marshal(v)
			if err != nil {
				body = []byte(err.Error())
			}
			text = string(body)
		}
		fmt.Fprintln(out, text)
	}
	player := rehearsal.Player{Stage: stage, Step: playStep, Until: rehearsal.Ending, Say: func(t rehearsal.Told) { line(t, toldText(t)) }}
	sum, err := player.Play(cmd.Context())
	if err != nil {
		return err
	}
	line(sum, summaryText(sum))
	return nil
}

func toldText(t rehearsal.Told) string {
	channels := strings.Join(t.Channels, "+")
	if channels == "" {
		channels = "nobody"
	}
	head := fmt.Sprintf("%s  %s, to %s", t.IssuedAt.Format("2006-01-02 15:04Z"), t.Kind, channels)
	return head + "\n" + wrapped(t.Subject, "    ", columns) + "\n" + wrapped(t.Reason, "    ", columns)
}

func summaryText(s rehearsal.Summary) string {
	return fmt.Sprintf("\n%s to %s: %d rounds, %d notices %v, %d mails, %d texts, %d repeats of a key; %d beds harvested in time (%.0f kg), %d lost, %d still standing; %.0f s",
		s.From.Format(time.DateOnly), s.To.Format(time.DateOnly), s.Rounds, s.Notices, s.ByKind, s.Mails, s.Texts, s.Repeats, s.Harvested, s.HarvestKg, s.Lost, s.Standing, s.RealSecond)
}

func playLive(cmd *cobra.Command, f demoFlags) (err error) {
	ctx, cancel := context.WithCancel(cmd.Context())
	defer cancel()
	stage, err := rehearsal.Raise(ctx, rehearsal.Options{Winter: rehearsal.Story(), From: rehearsal.Eve, Listen: f.listen, Log: f.log(cmd.ErrOrStderr())})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, stage.Strike()) }()
	if err := stage.Remember(ctx, rehearsal.Story(), rememberedDays); err != nil {
		return err
	}
	out := cmd.OutOrStdout()
	fmt.Fprintf(out, `This is an invented farm on an invented winter, on this machine only.
It is the eve of a cold snap: %s there; an hour of the story takes %s.

  pages           http://%s/
  sign in with    %s
  mail and texts  %s

Stop with Ctrl-C.
`, stage.Clock.Now().Format("Mon 2 Jan 2006 15:04 MST"), f.hour, stage.Service.Address(), stage.Token, stage.Catcher.URL())
	stage.Clock.Go(time.Hour.Seconds() / f.hour.Seconds())
	return stage.Live(ctx, f.hour, func(kind, to, subject string) {
		fmt.Fprintf(out, "%s  %-5s to %-7s %s\n", stage.Clock.Now().Format("Mon 2 Jan 15:04Z"), kind, to, subject)
	})
}
