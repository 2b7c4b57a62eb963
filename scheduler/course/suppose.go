package course

import (
	"fmt"
	"slices"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// Otherwise is what could be otherwise with a case; what is unset stays as it is.
type Otherwise struct {
	Product catalogue.ProductID // chosen where it is lawful
	StartOn civil.Date          // nothing more is done until that day
	Replace bool                // all plants of the case are replaced
	Area    site.AreaID         // the plants of the case stand there from now on
	Climate *site.Season        // all year, where the plants of the case stand
}

// Suppose returns the input of the course that a case would have. It changes nothing of what it is given.
func Suppose(in Input, o Otherwise) Input {
	in.Prefer = o.Product
	at := slices.IndexFunc(in.Histories, func(h History) bool { return h.Case == in.Case })
	if at < 0 {
		return in // Compute says so
	}
	in.Histories, in.Plants, in.Sites = slices.Clone(in.Histories), slices.Clone(in.Plants), slices.Clone(in.Sites)
	history := &in.Histories[at]
	history.Events = slices.Clone(history.Events)
	if o.Area != "" {
		in.move(history, o.Area)
	}
	if o.Climate != nil {
		in.warm(*history, *o.Climate)
	}
	if o.Replace {
		history.Events = append(history.Events, Event{ID: "suppose/replace", At: in.Now, Decision: &Decision{Kind: DecideReplace, By: "nobody"}})
	}
	if o.StartOn > in.Today {
		in.Now = in.Now.Add(time.Duration(o.StartOn.DaysSince(in.Today)) * 24 * time.Hour)
		in.Today = o.StartOn
	}
	return in
}

// move puts the plants of a case into an area now, and tells so.
func (in *Input) move(of *History, to site.AreaID) {
	from := map[site.AreaID][]site.PlantID{}
	var areas []site.AreaID
	for i, p := range in.Plants {
		if !slices.Contains(of.Plants, p.ID) || p.Site != of.Site || p.Area == to {
			continue
		}
		if from[p.Area] == nil {
			areas = append(areas, p.Area)
		}
		from[p.Area] = append(from[p.Area], p.ID)
		in.Plants[i].Area = to
	}
	for _, area := range areas {
		of.Events = append(of.Events, Event{ID: fmt.Sprintf("suppose/move/%s", area), At: in.Now, Moved: &Moved{Plants: from[area], From: area, To: to}})
	}
}

// warm gives the areas of a case's plants another climate.
func (in *Input) warm(of History, season site.Season) {
	season.Months = nil
	for i, at := range in.Sites {
		if at.ID != of.Site {
			continue
		}
		in.Sites[i].Areas = slices.Clone(at.Areas)
		for j, area := range at.Areas {
			stand := slices.ContainsFunc(in.Plants, func(p site.Plant) bool { return slices.Contains(of.Plants, p.ID) && p.Area == area.ID })
			if stand {
				in.Sites[i].Areas[j].Climate = site.Climate{season}
			}
		}
	}
}
