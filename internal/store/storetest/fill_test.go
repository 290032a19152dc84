package storetest

import (
	"reflect"
	"testing"

	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/store"
)

// What the suite fills must have no gap, or a member nobody keeps would not show.
func TestFilledLeavesNothingOut(t *testing.T) {
	for _, v := range []any{filled(1, farm.Farm{}), filled(1, farm.Bed{}), filled(1, store.Notice{}), filled(1, store.Cell{}),
		filled(1, store.Forecast{}), filled(1, store.Reply{}), filled(1, store.Field{})} {
		r := reflect.ValueOf(v)
		for i := range r.NumField() {
			require.False(t, r.Field(i).IsZero(), "%T.%s", v, r.Type().Field(i).Name)
		}
	}
	require.Equal(t, "kept", filled(1, farm.Bed{Name: "kept"}).Name)
	one, two := reflect.ValueOf(filled(1, farm.Bed{})), reflect.ValueOf(filled(2, farm.Bed{}))
	for i := range one.NumField() {
		require.NotEqual(t, one.Field(i).Interface(), two.Field(i).Interface(), one.Type().Field(i).Name)
	}
}
