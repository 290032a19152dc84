package verdict

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/science/bed"
)

// courses of three hours, each with its tissue temperatures.
func courses(sold ...[]float32) (out []bed.Course) {
	for _, s := range sold {
		out = append(out, bed.Course{Sold: s})
	}
	return out
}

// It is chilling where most of what is lost has not frozen; half is not most.
func TestLossWithoutFrostIsThatOfMostLostMembers(t *testing.T) {
	warm, cold := []float32{4, 3, 4}, []float32{4, -1, 4}
	const never = 3
	for _, c := range []struct {
		name string
		all  []bed.Course
		ruin []int
		hour int
		want bool
	}{
		{"none has frozen", courses(warm, warm, warm), []int{1, 1, 1}, 1, true},
		{"one of three has frozen", courses(warm, cold, warm), []int{1, 1, 1}, 1, true},
		{"exactly half has", courses(warm, cold), []int{1, 1}, 1, false},
		{"two of three have", courses(warm, cold, cold), []int{1, 1, 1}, 1, false},
		{"who is not lost yet does not count", courses(warm, cold, cold), []int{1, 2, never}, 1, true},
		{"frost after the loss does not count", courses([]float32{4, 3, -5}, warm), []int{1, 1}, 2, true},
		{"frost in the hour of the loss does", courses(cold, cold), []int{1, 1}, 1, false},
		{"at 0 °C nothing has frozen", courses([]float32{0, 0, 0}), []int{0}, 0, true},
	} {
		q := &tally{Question: Question{Courses: c.all}, ruin: c.ruin}
		assert.Equal(t, c.want, q.ruinedAboveFreezing(c.hour), c.name)
	}
}

// 51 courses, as many as the ensemble of the medium-range centre has had since 1996
// (50 and a control; from memory).
func TestThereAreAsManyMembersAsWhereItIsUsual(t *testing.T) {
	assert.Equal(t, 51, DefaultMembers)
}
