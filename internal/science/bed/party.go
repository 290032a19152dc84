package bed

import (
	"winterstand/internal/science/hardiness"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// party is the plants of a class on their way through hours, with what does not
// change from hour to hour worked out once.
type party struct {
	plants []Plant
	keys   []string
	organs []Organ
	sold   []hardiness.Params
	crown  []hardiness.Params
}

func partyOf(plants []Plant) party {
	n := len(plants)
	y := party{plants: plants, keys: make([]string, n), organs: make([]Organ, n), sold: make([]hardiness.Params, n), crown: make([]hardiness.Params, n)}
	for i := range plants {
		y.keys[i], y.organs[i] = plants[i].Key(), SoldOrgan(plants[i].Crop)
		y.sold[i] = hardiness.ForSold(plants[i].Crop)
		y.sold[i].Offset = plants[i].Offset
		y.crown[i], _ = hardiness.ForCrown(plants[i].Crop)
		y.crown[i].Offset = plants[i].Offset
	}
	return y
}

// feel reads what every plant feels after the ground was stepped through h, into felt.
func (y *party) feel(felt []Tissue, g *microclimate.Ground, site *microclimate.Site, on microclimate.Dressing, h weather.Hour) error {
	common := Tissue{Crown: g.Crown(), Snow: g.SnowCm(), Frost: g.FrozenCm(), Soil5: g.SoilAt(5)}
	for i := range y.plants {
		felt[i] = common
		if j := y.like(i, common.Snow); j < i {
			felt[i].Sold = felt[j].Sold
			continue
		}
		t, err := y.organs[i].Temperature(g, site, on, h)
		if err != nil {
			return err
		}
		felt[i].Sold = t
	}
	return nil
}

// like is the first plant whose sold organ feels what that of plant i does:
// without snow all leaves are in the same air, whatever their height.
func (y *party) like(i int, snowCm float64) int {
	mine := y.organs[i]
	for j, o := range y.organs[:i] {
		if o == mine || o.leaf && mine.leaf && snowCm <= 0 {
			return j
		}
	}
	return i
}

// after is plant i one hour later. offset comes on top of the plant's own.
func (y *party) after(i int, s State, t Tissue, offset unit.Kelvins) (State, error) {
	sold := y.sold[i]
	sold.Offset += offset
	var err error
	if s.Sold, err = hardiness.Step(sold, s.Sold, t.Sold); err != nil {
		return s, err
	}
	if y.plants[i].Crop.Regrow.Known() {
		crown := y.crown[i]
		crown.Offset += offset
		s.Crown, err = hardiness.Step(crown, s.Crown, t.Crown)
	}
	return s, err
}
