package main

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/durationpb"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/offline"
)

// made are the flags of an application as it was really made.
type made struct {
	Product     string `help:"Id of the product." placeholder:"PRODUCT"`
	Vessel      string `help:"Id of the vessel." placeholder:"VESSEL"`
	Concentrate string `help:"Concentrate that went into the mix, such as \"2.5 US fl oz\"." placeholder:"VOLUME"`
	Mass        string `help:"What was weighed into the mix, or strewn, such as \"4.5 g\"." placeholder:"MASS"`
	Volume      string `help:"Finished volume of the mix." placeholder:"VOLUME"`
	Applied     string `help:"What was put on the plants." placeholder:"VOLUME"`
	Left        string `help:"What was left of it." placeholder:"VOLUME"`
	LeftWent    string `help:"Where it went: none-left, on-plants, taken-home, drain or other. A drain is never right." placeholder:"WAY"`
	People      bool   `help:"People were in the area, or came in before they might."`
	Celsius     string `help:"Temperature measured when it began." placeholder:"NUMBER"`
	Humidity    string `help:"Relative humidity measured when it began, in percent." placeholder:"NUMBER"`
}

// application is what the flags tell; nil when they tell nothing.
func (m made) application(read reader) (*vernationv1.ApplicationMade, error) {
	told := &vernationv1.ApplicationMade{PeoplePresent: m.People}
	for _, pair := range [][2]string{
		{"product", m.Product}, {"vessel_id", m.Vessel}, {"concentrate", m.Concentrate}, {"mass", m.Mass}, {"volume", m.Volume}, {"applied", m.Applied},
		{"left", m.Left}, {"left_went", m.LeftWent}, {"measured_celsius", m.Celsius}, {"measured_humidity_percent", m.Humidity},
	} {
		if err := read.fill(told, protoreflect.Name(pair[0]), pair[1]); err != nil {
			return nil, err
		}
	}
	if proto.Equal(told, &vernationv1.ApplicationMade{}) {
		return nil, nil
	}
	if told.GetProduct() == "" || told.GetApplied() == "" {
		return nil, usage{fmt.Errorf("an application says with what and how much: want --product and --applied")}
	}
	return told, nil
}

// fill sets a field from a text, unless it is empty.
func (r reader) fill(into proto.Message, name protoreflect.Name, texts ...string) error {
	message := into.ProtoReflect()
	field := message.Descriptor().Fields().ByName(name)
	for _, text := range texts {
		if text == "" {
			continue
		}
		if err := r.set(message, field, formOf(field), text); err != nil {
			return usage{fmt.Errorf("--%s: %w", kebab(string(name)), err)}
		}
	}
	return nil
}

type packTick struct {
	atVisit
	Item      string   `arg:"" help:"Id of the work item."`
	Outcome   string   `help:"What came of it, such as done, done-in-part or people-present." default:"done" placeholder:"OUTCOME"`
	Began     string   `help:"When it began, by the site's clock; an application says so." placeholder:"WHEN"`
	Ended     string   `help:"When it ended; unset where it began, now." placeholder:"WHEN"`
	Plants    []string `help:"Ids of the plants it was done on; unset, all of the item." placeholder:"PLANT"`
	Count     string   `help:"How many single plants, where that is a part of a group." placeholder:"NUMBER"`
	Found     []string `help:"Ids of the plants on which a look found living insects." placeholder:"PLANT"`
	Severity  string   `help:"Severity of what a look found, 0 to 3." placeholder:"NUMBER"`
	Cards     string   `help:"Adults counted on the sticky cards." placeholder:"NUMBER"`
	Condition []string `help:"A condition of the item that was met; all unset, all that the day route names." placeholder:"TEXT" sep:"none"`
	Note      string   `help:"What else there is to say." placeholder:"TEXT"`
	made      `embed:""`
}

// Run notes it; told again it takes the place of what was told before.
func (c packTick) Run(s *surroundings) error {
	return c.change(s, func(_ *openedPack, visit *vernationv1.Visit, report *vernationv1.Report, read reader) error {
		planned := slices.IndexFunc(visit.GetWorkItems(), func(w *vernationv1.WorkItem) bool { return w.GetItem() == c.Item })
		if planned < 0 {
			var known []string
			for _, item := range visit.GetWorkItems() {
				known = append(known, item.GetItem())
			}
			return usage{fmt.Errorf("the visit has no work item %q: want one of %s; what no plan knows goes by `pack apply`", c.Item, strings.Join(known, ", "))}
		}
		told := &vernationv1.ReportedItem{Item: c.Item, Note: c.Note, ConditionsMet: c.Condition}
		if len(told.GetConditionsMet()) == 0 && c.Outcome == "done" {
			told.ConditionsMet = visit.GetWorkItems()[planned].GetConditions()
		}
		if err := c.tell(told, read, s.now); err != nil {
			return err
		}
		report.Items = slices.DeleteFunc(report.GetItems(), func(i *vernationv1.ReportedItem) bool { return i.GetItem() == c.Item })
		report.Items = append(report.Items, told)
		return nil
	})
}

// tell fills in what the flags say of an item.
func (c packTick) tell(told *vernationv1.ReportedItem, read reader, now func() time.Time) (err error) {
	for name, texts := range map[protoreflect.Name][]string{"outcome": {c.Outcome}, "began": {c.Began}, "plants": c.Plants, "done_count": {c.Count}} {
		if err := read.fill(told, name, texts...); err != nil {
			return err
		}
	}
	if c.Began != "" || c.Ended != "" {
		if told.Ended, err = read.moment(c.Ended, now); err != nil {
			return err
		}
	}
	if len(c.Found) > 0 || c.Severity != "" || c.Cards != "" {
		told.Inspection = &vernationv1.InspectionMade{}
		for name, texts := range map[protoreflect.Name][]string{"found": c.Found, "severity": {c.Severity}, "adults_on_cards": {c.Cards}} {
			if err := read.fill(told.Inspection, name, texts...); err != nil {
				return err
			}
		}
	}
	told.Application, err = c.application(read)
	return err
}

type packFind struct {
	atVisit
	Pest      string   `required:"" help:"Id of the pest." placeholder:"PEST"`
	Plants    []string `required:"" help:"Ids of the plants it was seen on." placeholder:"PLANT"`
	Certainty string   `help:"How certain it is: confirmed, suspected or client-call." default:"confirmed" placeholder:"CERTAINTY"`
	Life      string   `help:"Whether living insects were seen: living, dead or not-sure." default:"not-sure" placeholder:"LIFE"`
	Severity  string   `help:"0 signs only, 1 a few on one part, 2 several colonies or plants, 3 most of the plant." placeholder:"NUMBER"`
	Stages    []string `help:"Ids of the life stages seen." placeholder:"STAGE"`
	Note      string   `help:"What else there is to say." placeholder:"TEXT"`
}

// Run notes it.
func (c packFind) Run(s *surroundings) error {
	return c.change(s, func(_ *openedPack, _ *vernationv1.Visit, report *vernationv1.Report, read reader) error {
		finding := &vernationv1.Finding{Note: c.Note}
		for name, texts := range map[protoreflect.Name][]string{
			"pest": {c.Pest}, "plants": c.Plants, "certainty": {c.Certainty}, "life": {c.Life}, "severity": {c.Severity}, "stages": c.Stages,
		} {
			if err := read.fill(finding, name, texts...); err != nil {
				return err
			}
		}
		report.Findings = append(report.Findings, finding)
		return nil
	})
}

type packApply struct {
	atVisit
	Case   string   `required:"" help:"Id of the case it was for." placeholder:"CASE"`
	Plants []string `required:"" help:"Ids of the plants." placeholder:"PLANT"`
	Began  string   `required:"" help:"When it began, by the site's clock." placeholder:"WHEN"`
	Ended  string   `help:"When it ended. Unset, now." placeholder:"WHEN"`
	Area   string   `help:"Site and area, such as offices-alder-row/offices-floor; unset, where the first plant stands." placeholder:"SITE/AREA"`
	Note   string   `help:"What else there is to say." placeholder:"TEXT"`
	made   `embed:""`
}

// Run notes it.
func (c packApply) Run(s *surroundings) error {
	return c.change(s, func(_ *openedPack, _ *vernationv1.Visit, report *vernationv1.Report, read reader) (err error) {
		told := &vernationv1.ReportedItem{
			Outcome: vernationv1.Outcome_OUTCOME_DONE, FollowUpKind: vernationv1.FollowUpKind_FOLLOW_UP_KIND_APPLICATION, Note: c.Note,
		}
		for name, texts := range map[protoreflect.Name][]string{"case": {c.Case}, "plants": c.Plants, "began": {c.Began}, "area": {c.Area}} {
			if err := read.fill(told, name, texts...); err != nil {
				return err
			}
		}
		if told.Ended, err = read.moment(c.Ended, s.now); err != nil {
			return err
		}
		if told.Application, err = c.application(read); err != nil {
			return err
		}
		if told.GetApplication() == nil {
			return usage{fmt.Errorf("an application says with what and how much: want --product and --applied")}
		}
		report.Items = append(report.Items, told)
		return nil
	})
}

type packMayApply struct {
	File    string        `arg:"" type:"path" help:"File of the day pack."`
	Product string        `required:"" help:"Id of the product." placeholder:"PRODUCT"`
	Plants  []string      `required:"" help:"Ids of the plants, all of one site." placeholder:"PLANT"`
	Takes   time.Duration `help:"From the beginning of the first plant to the end of the last." default:"30m"`
	Begins  string        `help:"When it would begin, as an instant or by the clock of --zone. Unset, now." placeholder:"WHEN"`
	Pest    string        `help:"Id of the pest; unset, that of the plants' case." placeholder:"PEST"`
	Area    string        `help:"Site and area in which they would be treated; unset, where each stands." placeholder:"SITE/AREA"`
}

// Run answers from what was known when the pack was taken.
func (c packMayApply) Run(s *surroundings) error {
	o, err := openPack(c.File)
	if err != nil {
		return err
	}
	p, err := offlinePrinter(s)
	if err != nil {
		return err
	}
	opened, err := offline.Open(o.pack)
	if err != nil {
		return err
	}
	parts := strings.Split(o.pack.GetTechnician(), "/")
	read := reader{who: bearer{Business: parts[1], Technician: parts[3]}, zone: p.zone}
	request := &vernationv1.CheckApplicationRequest{Name: o.pack.GetTechnician(), Takes: durationpb.New(c.Takes)}
	for name, texts := range map[protoreflect.Name][]string{
		"product": {c.Product}, "plants": c.Plants, "pest": {c.Pest}, "area": {c.Area}, "begins": {c.Begins},
	} {
		if err := read.fill(request, name, texts...); err != nil {
			return err
		}
	}
	answer, err := opened.CheckApplication(request, s.now())
	if err != nil {
		return usage{err}
	}
	if err := p.print(answer); err != nil {
		return err
	}
	if p.output == "table" {
		known := o.pack.GetCreateTime().AsTime().In(p.usualZone())
		_, err = fmt.Fprintf(s.out, "%s", wrap("", "Without network: as it was known at "+known.Format("2006-01-02 15:04 MST")+". What others did since is not in it.", pageWidth))
	}
	return err
}
