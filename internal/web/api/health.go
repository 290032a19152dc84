package api

import (
	"context"
	"encoding/json"
	"log/slog"
	"net/http"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"winterstand/internal/store"
)

// Healthz says that the process runs.
func Healthz() http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { say(w, http.StatusOK, "ok") })
}

// pingWithin bounds how long readiness waits for the database. Own default.
const pingWithin = 2 * time.Second

// Readyz says that the database answers: send requests here, or elsewhere.
func Readyz(ping func(context.Context) error, log *slog.Logger) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		ctx, cancel := context.WithTimeout(r.Context(), pingWithin)
		defer cancel()
		if err := ping(ctx); err != nil {
			log.WarnContext(r.Context(), "not ready", "error", err)
			say(w, http.StatusServiceUnavailable, because("no_database").String())
			return
		}
		say(w, http.StatusOK, "ready")
	})
}

func say(w http.ResponseWriter, status int, state string) {
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_ = json.NewEncoder(w).Encode(map[string]string{"status": state}) // the caller has gone: nobody is left to tell
}

// Metrics serves a registry in the Prometheus text format.
func Metrics(r *prometheus.Registry) http.Handler {
	return promhttp.HandlerFor(r, promhttp.HandlerOpts{EnableOpenMetrics: true})
}

// BookCounts is a collector of the books' totals, counted when they are asked for.
func BookCounts(books interface {
	Counts(context.Context) (store.Counts, error)
}, now func() time.Time, log *slog.Logger) prometheus.Collector {
	return &bookCounts{count: books.Counts, now: now, log: log}
}

type bookCounts struct {
	count func(context.Context) (store.Counts, error)
	now   func() time.Time
	log   *slog.Logger
}

func gauge(name, help string, labels ...string) *prometheus.Desc {
	return prometheus.NewDesc("winterstand_"+name, help, labels, nil)
}

var (
	entries        = gauge("entries", "Entries in the books.", "kind")
	messages       = gauge("messages", "Messages by state.", "state")
	oldestQueued   = gauge("oldest_queued_message_seconds", "Age of the oldest message that waits to be sent; absent: none waits.")
	oldestForecast = gauge("oldest_forecast_seconds", "Age of the least recent forecast among the places in use; absent: there is none.")
	countsUp       = gauge("books_up", "1: the books could be counted.")
)

// Describe lists the metrics.
func (b *bookCounts) Describe(ch chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{entries, messages, oldestQueued, oldestForecast, countsUp} {
		ch <- d
	}
}

// Collect counts. When the books do not answer only books_up 0 is told: old
// figures would look like good news.
func (b *bookCounts) Collect(ch chan<- prometheus.Metric) {
	ctx, cancel := context.WithTimeout(context.Background(), pingWithin)
	defer cancel()
	c, err := b.count(ctx)
	if err != nil {
		b.log.WarnContext(ctx, "count the books", "error", err)
		ch <- prometheus.MustNewConstMetric(countsUp, prometheus.GaugeValue, 0)
		return
	}
	ch <- prometheus.MustNewConstMetric(countsUp, prometheus.GaugeValue, 1)
	for kind, n := range map[string]int64{"farms": c.Farms, "fields": c.Fields, "beds": c.Beds, "cells": c.Cells, "notices": c.Notices} {
		ch <- prometheus.MustNewConstMetric(entries, prometheus.GaugeValue, float64(n), kind)
	}
	for state, n := range map[string]int64{store.Queued: c.MessagesQueued, store.Sent: c.MessagesSent, store.GivenUp: c.GivenUp} {
		ch <- prometheus.MustNewConstMetric(messages, prometheus.GaugeValue, float64(n), state)
	}
	if t, ok := c.OldestQueued.Get(); ok {
		ch <- prometheus.MustNewConstMetric(oldestQueued, prometheus.GaugeValue, b.now().Sub(t).Seconds())
	}
	if t, ok := c.OldestForecast.Get(); ok {
		ch <- prometheus.MustNewConstMetric(oldestForecast, prometheus.GaugeValue, b.now().Sub(t).Seconds())
	}
}
