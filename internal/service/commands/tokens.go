package commands

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base32"
	"encoding/hex"
	"errors"
	"strings"

	"winterstand/internal/farm"
	"winterstand/internal/store"
)

// TokenPrefix begins every token, so that a leaked one can be told for what it is.
const TokenPrefix = "ws_"

// HashToken is how a token is kept: SHA-256 in hex. A token holds 160 random
// bits, so that a plain hash cannot be turned back by guessing.
func HashToken(token string) string {
	sum := sha256.Sum256([]byte(token))
	return hex.EncodeToString(sum[:])
}

func secret() string {
	b := make([]byte, 20)
	rand.Read(b) // never fails: it ends the program instead (crypto/rand)
	return strings.ToLower(base32.StdEncoding.WithPadding(base32.NoPadding).EncodeToString(b))
}

// NewToken is what MakeToken made.
type NewToken struct {
	Farm    farm.Farm
	NewFarm bool
	Token   string // shown once, kept nowhere
}

// MakeToken makes a token for the farm of that name, and the farm too when
// there is none. Errors: *Invalid.
func (d Service) MakeToken(ctx context.Context, farmName, scope string) (NewToken, error) {
	var c check
	name := strings.TrimSpace(farmName)
	accept(&c, "farm", Set(name), aName, &name, same[string])
	accept(&c, "scope", Set(scope), oneOf("token.scope"), &scope, same[string])
	if err := c.err(); err != nil {
		return NewToken{}, err
	}
	made := NewToken{Token: TokenPrefix + secret()}
	err := d.write(ctx, func(w store.Writer) error {
		var err error
		if made.Farm, made.NewFarm, err = d.farmNamed(ctx, w, name); err != nil {
			return err
		}
		return w.AddToken(ctx, farm.Token{FarmID: made.Farm.ID, Hash: HashToken(made.Token), Scope: scope, CreatedAt: d.now()})
	})
	return made, err
}

func (d Service) farmNamed(ctx context.Context, w store.Writer, name string) (f farm.Farm, added bool, err error) {
	f, err = w.FarmByName(ctx, name)
	if err == nil || !errors.Is(err, store.ErrNotFound) {
		return f, false, err
	}
	f = farm.New(name, d.now())
	f.CalendarSecret = secret()
	id, err := w.AddFarm(ctx, f)
	if err != nil {
		return f, false, err
	}
	f, err = w.Farm(ctx, id)
	return f, true, err
}

// Authenticate finds what a token may do. store.ErrNotFound: no such token,
// or one that was revoked.
func (d Service) Authenticate(ctx context.Context, token string) (farm.Token, error) {
	if !strings.HasPrefix(token, TokenPrefix) {
		return farm.Token{}, store.ErrNotFound
	}
	return d.Books().Token(ctx, HashToken(token))
}

// RevokeToken ends a token; ending one twice is harmless.
func (d Service) RevokeToken(ctx context.Context, token string) error {
	return d.write(ctx, func(w store.Writer) error {
		return w.RevokeToken(ctx, HashToken(token), d.now())
	})
}
