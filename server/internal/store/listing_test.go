package store_test

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/server/internal/listing"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

// holds judges a condition on a plant by itself, without SQL.
func holds(c listing.Condition, p site.Plant) bool {
	switch c := c.(type) {
	case listing.All:
		return !slices.ContainsFunc(c, func(part listing.Condition) bool { return !holds(part, p) })
	case listing.Any:
		return slices.ContainsFunc(c, func(part listing.Condition) bool { return holds(part, p) })
	case listing.Not:
		return !holds(c.Of, p)
	case listing.Compare:
		switch c.Field {
		case "count":
			return compared(c.Operator, cmp.Compare(int64(p.Count), c.Value.(int64)))
		case "in_flower":
			return (p.InFlower == c.Value.(bool)) == (c.Operator == "=")
		case "display_name":
			if c.Operator == ":" {
				return strings.Contains(strings.ToLower(p.Name), strings.ToLower(c.Value.(string)))
			}
			return (p.Name == c.Value.(string)) == (c.Operator == "=")
		case "gone_on": // an unset day compares with nothing, and differs from every day
			if c.Operator == ":" {
				return !p.GoneOn.IsZero()
			}
			return c.Operator == "!=" && p.GoneOn != c.Value.(civil.Date) || !p.GoneOn.IsZero() && compared(c.Operator, cmp.Compare(p.GoneOn, c.Value.(civil.Date)))
		}
	}
	panic(fmt.Sprintf("no judgement of %+v", c))
}

func compared(operator string, sign int) bool {
	switch operator {
	case "=":
		return sign == 0
	case "!=":
		return sign != 0
	case "<":
		return sign < 0
	case "<=":
		return sign <= 0
	case ">":
		return sign > 0
	default:
		return sign >= 0
	}
}

var days = []civil.Date{storetest.Epoch, storetest.Epoch.AddDays(1), storetest.Epoch.AddDays(2)}

// comparison draws one comparison of a plant's field.
func comparison(t *rapid.T) listing.Condition {
	order := rapid.SampledFrom([]string{"=", "!=", "<", "<=", ">", ">="})
	equal := rapid.SampledFrom([]string{"=", "!="})
	switch rapid.IntRange(0, 4).Draw(t, "field") {
	case 0:
		return listing.Compare{Field: "count", Kind: listing.Number, Operator: order.Draw(t, "operator"), Value: int64(rapid.IntRange(0, 5).Draw(t, "count"))}
	case 1:
		return listing.Compare{Field: "in_flower", Kind: listing.Truth, Operator: equal.Draw(t, "operator"), Value: rapid.Bool().Draw(t, "in flower")}
	case 2:
		return listing.Compare{Field: "gone_on", Kind: listing.Day, Operator: order.Draw(t, "operator"), Value: rapid.SampledFrom(days).Draw(t, "day")}
	case 3:
		return listing.Compare{Field: "gone_on", Kind: listing.Day, Operator: ":"}
	default:
		operator := rapid.SampledFrom([]string{"=", "!=", ":"}).Draw(t, "operator")
		return listing.Compare{Field: "display_name", Operator: operator, Value: rapid.SampledFrom([]string{"FIG", "Fig 1", "%", "_", "'; --", "1"}).Draw(t, "text")}
	}
}

func drawn(t *rapid.T, depth int) listing.Condition {
	if depth == 0 {
		return comparison(t)
	}
	switch rapid.IntRange(0, 3).Draw(t, "kind") {
	case 0:
		return listing.Not{Of: drawn(t, depth-1)}
	case 1:
		return listing.All{drawn(t, depth-1), drawn(t, depth-1)}
	case 2:
		return listing.Any{drawn(t, depth-1), drawn(t, depth-1)}
	default:
		return comparison(t)
	}
}

func TestListed_PagesHoldExactlyWhatTheConditionSaysInOneOrder(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	var all []site.Plant
	for i := range 12 {
		p := plant(site.PlantID(fmt.Sprintf("fig-%02d", i)), "site-1", "site-1-hall")
		p.Name, p.Count, p.InFlower = []string{"Fig 1", "fig 2", "A % sign", "under_score"}[i%4], 1+i%5, i%2 == 0
		if i%3 > 0 {
			p.GoneOn = days[i%3]
		}
		all = append(all, p)
	}
	in(t, d, func(tx *store.Tx) error { return tx.InsertPlants(all) })
	fields := []string{"display_name", "count", "in_flower", "species", "planter", "height_cm"}
	rapid.Check(t, func(r *rapid.T) {
		asked := listing.Question{Where: listing.All{
			listing.Compare{Field: "name", Operator: ">=", Value: "fig-"}, listing.Compare{Field: "name", Operator: "<", Value: "fig-99"}, drawn(r, 2),
		}}
		for _, field := range rapid.SliceOfNDistinct(rapid.SampledFrom(fields), 0, 3, rapid.ID).Draw(r, "order") {
			asked.Order = append(asked.Order, listing.Key{Field: field, Descending: rapid.Bool().Draw(r, "descending")})
		}
		asked.Order = append(asked.Order, listing.Key{Field: listing.NameField, Descending: rapid.Bool().Draw(r, "descending")})
		var want, whole, paged []site.PlantID
		for _, p := range all {
			if holds(asked.Where.(listing.All)[2], p) {
				want = append(want, p.ID)
			}
		}
		err := d.Store.Reading(t.Context(), d.Office, func(tx *store.Tx) error {
			asked.Size = 100
			for _, into := range []*[]site.PlantID{&whole, &paged} {
				for asked.After = nil; ; {
					rows, err := tx.KeptPlants("", asked)
					if err != nil {
						return err
					}
					for _, row := range rows {
						*into = append(*into, row.Value.Value.ID)
					}
					if len(rows) < asked.Size {
						break
					}
					asked.After = rows[len(rows)-1].After
				}
				asked.Size = rapid.IntRange(1, 4).Draw(r, "page")
			}
			return nil
		})
		if err != nil {
			r.Fatal(err)
		}
		if !slices.Equal(whole, paged) {
			r.Fatalf("one page: %v, small ones: %v", whole, paged)
		}
		if slices.Sort(whole); !slices.Equal(whole, want) {
			r.Fatalf("%+v: %v, want %v", asked.Where, whole, want)
		}
	})
}
