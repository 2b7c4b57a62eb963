package casework

import (
	"fmt"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// mostDaysAhead bounds how late a course may be supposed to begin.
const mostDaysAhead = 366

// CompareCourse computes the course of a case beside the one that would follow if something were otherwise. It stores nothing.
//
// Fails with NotFound for the case, Refused (CASE_ENDED) and Invalid (CONTRADICTION where nothing is otherwise or plants are to be
// replaced and treated at once, UNKNOWN_PRODUCT, UNKNOWN_AREA, OUT_OF_RANGE for the first day, each with its field).
func CompareCourse(tx *store.Tx, of course.CaseID, o course.Otherwise) (firm.CourseComparison, error) {
	c, present, err := Course(tx, of)
	if err != nil {
		return firm.CourseComparison{}, err
	}
	if !goesOn(c) {
		return firm.CourseComparison{}, fault.New(fault.Refused, "CASE_ENDED", "case %s has ended (%s): nothing follows, whatever were otherwise", c.ID, plain(c.Ending.Kind))
	}
	in, err := input(tx, c)
	if err != nil {
		return firm.CourseComparison{}, err
	}
	if err := judgeOtherwise(in, o); err != nil {
		return firm.CourseComparison{}, err
	}
	changed, err := compute(course.Suppose(in, o))
	if err != nil {
		return firm.CourseComparison{}, err
	}
	compared := firm.CourseComparison{Case: c, Present: present, Changed: changed, PresentCost: costOf(present), ChangedCost: costOf(changed)}
	if o.StartOn > in.Today {
		compared.DelayCost = delayOf(present, o.StartOn)
	}
	compared.Differences = differences(compared, in.Products)
	return compared, nil
}

func judgeOtherwise(in course.Input, o course.Otherwise) error {
	var fields catalogue.FieldErrors
	if o == (course.Otherwise{}) {
		fields.Add("name", catalogue.ReasonContradiction, "nothing is to be otherwise: want a product, a first day, new plants, an area or a climate")
	}
	if o.Replace && o.Product != "" {
		fields.Add("replace", catalogue.ReasonContradiction, "plants that are replaced are treated with nothing: want one of both")
	}
	if o.Product != "" && !slices.ContainsFunc(in.Products, func(p catalogue.Product) bool { return p.ID == o.Product }) {
		fields.Add("product", "UNKNOWN_PRODUCT", "product %s is not of this business", o.Product)
	}
	if o.Area != "" && !slices.ContainsFunc(in.Sites[0].Areas, func(a site.Area) bool { return a.ID == o.Area }) {
		fields.Add("area", catalogue.ReasonUnknownArea, "%s is no area of %s", o.Area, in.Sites[0].Name)
	}
	if on := o.StartOn; !on.IsZero() && (on < in.Today || on > in.Today.AddDays(mostDaysAhead)) {
		fields.Add("start_on", catalogue.ReasonOutOfRange, "%v: want a day from today, %v, to a year ahead", on, in.Today)
	}
	return fault.InvalidFields(fields)
}

// costOf is what a course costs to its end; of new plants what they cost.
func costOf(c course.Course) quantity.Money {
	if c.Material == "" && slices.ContainsFunc(c.FollowUps, func(f course.FollowUp) bool { return f.Kind == course.KindReplacement }) {
		return c.Replacement.Replacement
	}
	return c.Replacement.Course
}

// delayOf is the price of beginning the first application of a course on a day instead of its ideal one.
func delayOf(c course.Course, on civil.Date) quantity.Money {
	for _, f := range c.FollowUps {
		if f.Kind != course.KindApplication || len(f.PricePerDay) == 0 || f.Due.After != "" {
			continue
		}
		return f.PricePerDay[min(max(0, on.DaysSince(f.Due.EarliestOn)), len(f.PricePerDay)-1)]
	}
	return 0
}

// differences says for people what would be otherwise.
func differences(c firm.CourseComparison, products []catalogue.Product) []string {
	var all []string
	differ := func(what string, present, changed any) {
		if is, would := fmt.Sprint(present), fmt.Sprint(changed); is != would {
			all = append(all, fmt.Sprintf("%s: %s now, %s then", what, orNone(is), orNone(would)))
		}
	}
	differ("product", productName(c.Present, products), productName(c.Changed, products))
	differ("applications to come", applicationsOf(c.Present), applicationsOf(c.Changed))
	treated := c.Present.Material != "" && c.Changed.Material != ""
	if treated {
		differ("clears by the proof", yesNo(c.Present.Proof.Clears), yesNo(c.Changed.Proof.Clears))
		differ("chance that none is left after the last application", percent(c.Present.ChanceFree), percent(c.Changed.ChanceFree))
	}
	differ("last item", c.Present.EndsOn(), c.Changed.EndsOn())
	differ("cost to the end", c.PresentCost, c.ChangedCost)
	if c.DelayCost > 0 {
		all = append(all, fmt.Sprintf("waiting costs about %v more by what the pest does meanwhile", c.DelayCost))
	}
	return all
}

func orNone(text string) string {
	if text == "" {
		return "none"
	}
	return text
}

func yesNo(yes bool) string {
	if yes {
		return "yes"
	}
	return "no"
}

func percent(share float64) string { return fmt.Sprintf("%.0f %%", 100*share) }

func applicationsOf(c course.Course) int {
	n := 0
	for _, f := range c.FollowUps {
		if f.Kind == course.KindApplication {
			n++
		}
	}
	return n
}

func productName(c course.Course, products []catalogue.Product) string {
	at := slices.IndexFunc(products, func(p catalogue.Product) bool { return p.ID == c.Chosen && c.Chosen != "" })
	if at < 0 {
		return materialName(c.Material)
	}
	return products[at].Name
}

// Outlook returns what the model expects of a case, day by day.
//
// Fails with NotFound for an unknown case.
func Outlook(tx *store.Tx, of course.CaseID) (course.Outlook, error) {
	c, err := tx.Case(of)
	if err != nil {
		return course.Outlook{}, err
	}
	in, err := input(tx, c)
	if err != nil {
		return course.Outlook{}, err
	}
	o, err := course.Foresee(in)
	if err != nil {
		return course.Outlook{}, fault.New(fault.Invalid, "COURSE_NOT_COMPUTABLE", "the outlook of case %s cannot be computed: %v", of, err)
	}
	return o, nil
}
