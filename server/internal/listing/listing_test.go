package listing_test

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/civil"
	"vernation/server/internal/fault"
	"vernation/server/internal/listing"
)

var noun = listing.Declare(
	listing.Field{Name: "name", Stored: func(told string) string { return told[strings.LastIndexByte(told, '/')+1:] }},
	listing.Field{Name: "display_name"}, listing.Field{Name: "count", Kind: listing.Number}, listing.Field{Name: "edible", Kind: listing.Truth},
	listing.Field{Name: "tags", Kind: listing.Texts, Unordered: true}, listing.Field{Name: "gone_on", Kind: listing.Day},
	listing.Field{Name: "delete_time", Kind: listing.Instant, Unordered: true},
	listing.Field{Name: "agreement.day", Kind: listing.Word, Enum: vernationv1.Weekday(0).Type(), Stored: strings.ToLower},
)

// The examples marked so stand in AIP-160 (google.aip.dev/160), with fields of ours in the place of theirs.
func TestQuestion_ReadsTheGrammarOfAIP160(t *testing.T) {
	t.Parallel()
	is := func(field string, kind listing.Kind, operator string, value any) listing.Condition {
		return listing.Compare{Field: field, Kind: kind, Operator: operator, Value: value}
	}
	text := func(value string) listing.Condition { return is("display_name", listing.Text, "=", value) }
	for filter, want := range map[string]listing.Condition{
		"":                        nil,
		"  ":                      nil,
		`display_name = "a"`:      text("a"),
		`count >= 3`:              is("count", listing.Number, ">=", int64(3)),
		`count = -3`:              is("count", listing.Number, "=", int64(-3)),
		`edible = true`:           is("edible", listing.Truth, "=", true),
		`edible != false`:         is("edible", listing.Truth, "!=", false),
		`tags:"x"`:                is("tags", listing.Texts, ":", "x"),
		`tags:"*"`:                is("tags", listing.Texts, ":", nil),
		`gone_on < "2026-03-02"`:  is("gone_on", listing.Day, "<", civil.NewDate(2026, time.March, 2)),
		`name = "businesses/b/x"`: is("name", listing.Text, "=", "x"),
		`delete_time:"*"`:         is("delete_time", listing.Instant, ":", nil),
		`delete_time > "2026-03-02T07:00:00Z"`: is("delete_time", listing.Instant, ">",
			civil.InstantOf(time.Date(2026, time.March, 2, 7, 0, 0, 0, time.UTC))),
		`delete_time > timestamp("2026-03-02T02:00:00-05:00")`: is("delete_time", listing.Instant, ">",
			civil.InstantOf(time.Date(2026, time.March, 2, 7, 0, 0, 0, time.UTC))),
		`agreement.day = WEEKDAY_MON`:                                         is("agreement.day", listing.Word, "=", "weekday_mon"),
		strings.Repeat("(", 400) + "edible = true" + strings.Repeat(")", 400): is("edible", listing.Truth, "=", true),
		`NOT display_name = "a"`:                                              listing.Not{Of: text("a")},
		`-display_name = "a"`:                                                 listing.Not{Of: text("a")}, // AIP-160: - is NOT
		// AIP-160: "a AND b OR c" evaluates to "a AND (b OR c)".
		`display_name = "a" AND display_name = "b" OR display_name = "c"`: listing.All{text("a"), listing.Any{text("b"), text("c")}},
		`(display_name = "a" AND display_name = "b") OR display_name = "c"`: listing.Any{
			listing.All{text("a"), text("b")}, text("c"),
		},
	} {
		got, err := noun.Question(filter, "")
		if err != nil {
			t.Errorf("%s: %v", filter, err)
			continue
		}
		if diff := cmp.Diff(want, got.Where); diff != "" {
			t.Errorf("%s (-want +got):\n%s", filter, diff)
		}
	}
}

func TestQuestion_RefusesWhatItCannotAnswer(t *testing.T) {
	t.Parallel()
	for _, filter := range []string{
		`colour = "a"`, `display_name = `, `display_name`, `"a"`, `display_name = a`, `"a" = display_name`, `count = "3"`, `count:3`, `edible = "yes"`,
		`edible`, `display_name = display_name`, `gone_on < "yesterday"`, `agreement.day = WEEKDAY_NONE`, `agreement.day = 1`, `agreement = "a"`,
		`delete_time:"2026"`, `display_name = "a" AND`, `((count = 1)`, `regex(display_name, "a")`, `display_name = "a'; DROP TABLE site"; --`,
		strings.Repeat("count = 1 OR ", 50) + "count = 1",
	} {
		_, err := noun.Question(filter, "")
		if !fault.Is(err, fault.Invalid) || fault.Of(err).Fields[0].Path != "filter" || fault.Of(err).Fields[0].Reason != listing.ReasonFilter {
			t.Errorf("%.80s: %v, want it refused", filter, err)
		}
	}
	for _, order := range []string{"colour", "tags", "delete_time", "name up", "count,,name", "count, count desc", "count; name", strings.Repeat("count,", 90)} {
		_, err := noun.Question("", order)
		if !fault.Is(err, fault.Invalid) || fault.Of(err).Fields[0].Reason != listing.ReasonOrder {
			t.Errorf("order by %.40q: %v, want it refused", order, err)
		}
	}
	if _, err := noun.Question("colour", "colour"); len(fault.Of(err).Fields) != 2 {
		t.Errorf("both wrong: %v, want both said", err)
	}
}

func TestQuestion_OrderEndsWithTheName(t *testing.T) {
	t.Parallel()
	for order, want := range map[string][]listing.Key{
		"":                         {{Field: "name"}},
		"count desc":               {{Field: "count", Descending: true}, {Field: "name"}},
		"display_name, count desc": {{Field: "display_name"}, {Field: "count", Descending: true}, {Field: "name"}},
		"name desc, count":         {{Field: "name", Descending: true}},
	} {
		got, err := noun.Question("", order)
		if diff := cmp.Diff(want, got.Order); err != nil || diff != "" {
			t.Errorf("order by %q: %v (-want +got):\n%s", order, err, diff)
		}
	}
}

func TestQuestion_SaysWhatWouldBeRight(t *testing.T) {
	t.Parallel()
	for filter, want := range map[string]string{
		`display_name = hall AND count = 1`: `"hall" is neither a field nor a value of an enum; texts stand in double quotes`,
		`count = "3"`:                       `"=" joins values that do not go together: texts stand in double quotes, numbers and values of enums bare`,
		`gone_on < "yesterday"`:             `gone_on <: want a day such as "2026-03-02"`,
		`count = 1 AND`:                     "unexpected trailing token",
	} {
		if _, err := noun.Question(filter, ""); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want it to say %s", filter, err, want)
		}
	}
}
