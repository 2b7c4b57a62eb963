package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"vernation/client"
	vernationv1 "vernation/proto/vernation/v1"
)

// packCommand is a technician's work without network: the day pack and what is told of it stand in one file.
type packCommand struct {
	Take     packTake     `cmd:"" help:"Take the day pack along as a file: today's day route and those of the next two working days."`
	Show     packShow     `cmd:"" help:"Show the day routes of the file, with what is told already."`
	Arrive   packArrive   `cmd:"" help:"Note when a visit began."`
	Tick     packTick     `cmd:"" help:"Tell what came of a work item."`
	Find     packFind     `cmd:"" help:"Note what was seen besides at a visit."`
	Apply    packApply    `cmd:"" help:"Note an application that no plan knows."`
	MayApply packMayApply `cmd:"" name:"may-apply" help:"Ask whether something may be applied here and now, without network."`
	Leave    packLeave    `cmd:"" help:"Note when a visit ended; then its report is complete."`
	Post     packPost     `cmd:"" help:"Post the complete reports. Those that are posted already have no effect again."`
}

// packed file. What is told of a visit grows into a report; only complete ones are posted.
type packFile struct {
	Pack    json.RawMessage `json:"pack"`
	Reports []*packedReport `json:"reports,omitempty"`
}

// packedReport is a report in the making. Its id is made once, so that posting it again changes nothing.
type packedReport struct {
	ID     string          `json:"id"`
	Posted bool            `json:"posted,omitempty"`
	Report json.RawMessage `json:"report"`
}

// openedPack is a file that was read.
type openedPack struct {
	path    string
	file    packFile
	pack    *vernationv1.DayPack
	reports []*vernationv1.Report // beside file.Reports
}

// openPack reads a file.
func openPack(path string) (*openedPack, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, usage{err}
	}
	o := &openedPack{path: path, pack: &vernationv1.DayPack{}}
	if err := json.Unmarshal(text, &o.file); err != nil {
		return nil, usage{fmt.Errorf("%s is no day pack: %w: want a file that `vernation technician pack take` made", path, err)}
	}
	if err := protojson.Unmarshal(o.file.Pack, o.pack); err != nil {
		return nil, usage{fmt.Errorf("%s is no day pack: %w: want a file that `vernation technician pack take` made", path, err)}
	}
	for _, kept := range o.file.Reports {
		report := &vernationv1.Report{}
		if err := protojson.Unmarshal(kept.Report, report); err != nil {
			return nil, usage{fmt.Errorf("%s: report %s: %w", path, kept.ID, err)}
		}
		o.reports = append(o.reports, report)
	}
	return o, nil
}

// save writes the file anew.
func (o *openedPack) save() error {
	for i, report := range o.reports {
		text, err := jsonOf(report)
		if err != nil {
			return err
		}
		o.file.Reports[i].Report = text
	}
	text, err := json.MarshalIndent(o.file, "", "  ")
	if err != nil {
		return err
	}
	return writeFile(o.path, append(text, '\n'))
}

// visit finds a visit of the pack by its id.
func (o *openedPack) visit(name string) (*vernationv1.Visit, error) {
	var known []string
	for _, route := range o.pack.GetDayRoutes() {
		for _, visit := range route.GetVisits() {
			if id(visit.GetName()) == name || visit.GetName() == name {
				return visit, nil
			}
			known = append(known, id(visit.GetName()))
		}
	}
	return nil, usage{fmt.Errorf("the day pack has no visit %q: want one of %s", name, strings.Join(known, ", "))}
}

// report is that of a visit which is not posted yet; a new one where there is none.
func (o *openedPack) report(visit *vernationv1.Visit) *vernationv1.Report {
	for i, report := range o.reports {
		if report.GetVisit() == visit.GetName() && !o.file.Reports[i].Posted {
			return report
		}
	}
	report := &vernationv1.Report{Visit: visit.GetName(), Technician: o.pack.GetTechnician(), Site: visit.GetSite()}
	o.reports = append(o.reports, report)
	o.file.Reports = append(o.file.Reports, &packedReport{ID: uuid.NewString()})
	return report
}

// ticked are the outcomes that are told, by work item.
func (o *openedPack) ticked() map[string]string {
	told := map[string]string{}
	for i, report := range o.reports {
		for _, item := range report.GetItems() {
			if item.GetItem() != "" {
				told[item.GetItem()] = enumText(item, "outcome")
				if o.file.Reports[i].Posted {
					told[item.GetItem()] += ", posted"
				}
			}
		}
	}
	return told
}

// reader reads clock times in the zone of a visit's site.
func (o *openedPack) reader(visit *vernationv1.Visit, p *printer) reader {
	parts := strings.Split(o.pack.GetTechnician(), "/")
	return reader{who: bearer{Business: parts[1], Technician: parts[3]}, zone: p.zoneOfBrief(visit)}
}

// offlinePrinter prints without asking anybody.
func offlinePrinter(s *surroundings) (*printer, error) {
	by, err := s.common.settle()
	if err != nil {
		return nil, err
	}
	coloured := by.colour == "always" || by.colour == "auto" && s.terminal
	return &printer{out: s.out, settled: by, coloured: coloured, places: &places{}}, nil
}

type packTake struct {
	File        string `arg:"" type:"path" help:"File to write."`
	WithSecrets bool   `help:"Take along today's codes and where keys lie too. Whoever reads the file can open the sites: keep it no longer than the day."`
}

// Run asks for it and writes it, without what opens the sites unless that is asked for.
func (t packTake) Run(s *surroundings) error {
	by, err := s.common.settle()
	if err != nil {
		return err
	}
	if earlier, err := openPack(t.File); err == nil && slices.ContainsFunc(earlier.file.Reports, func(r *packedReport) bool { return !r.Posted }) {
		return usage{fmt.Errorf("%s holds reports that are not posted: post them first, or take the day pack along as another file", t.File)}
	}
	ctx, cancel := by.bounded(s.ctx)
	defer cancel()
	c, err := by.dial(ctx)
	if err != nil {
		return err
	}
	defer func() { _ = c.Close() }() // all is told by then
	name := by.who.expand("businesses/{business}/technicians/{technician}/dayPack", "")
	pack, err := c.DayRoutes().GetDayPack(ctx, &vernationv1.GetDayPackRequest{Name: name})
	if err != nil {
		return err
	}
	visits := 0
	for _, route := range pack.GetDayRoutes() {
		visits += len(route.GetVisits())
		if !t.WithSecrets {
			withoutSecrets(route)
		}
	}
	o := &openedPack{path: t.File, pack: pack}
	if o.file.Pack, err = protojson.Marshal(pack); err != nil {
		return err
	}
	if err := o.save(); err != nil {
		return err
	}
	_, err = fmt.Fprintf(s.out, "%s with %s: %s\n", count(len(pack.GetDayRoutes()), "day route"), count(visits, "visit"), t.File)
	return err
}

type packShow struct {
	File string `arg:"" type:"path" help:"File of the day pack."`
	On   string `help:"Day, such as 2026-03-03. Unset, all." placeholder:"DAY"`
}

// Run prints the day routes.
func (c packShow) Run(s *surroundings) error {
	o, err := openPack(c.File)
	if err != nil {
		return err
	}
	p, err := offlinePrinter(s)
	if err != nil {
		return err
	}
	shown := 0
	for _, route := range o.pack.GetDayRoutes() {
		if c.On != "" && route.GetOn() != c.On {
			continue
		}
		if shown++; shown > 1 {
			_, _ = fmt.Fprintln(s.out)
		}
		if _, err := fmt.Fprint(s.out, p.dayText(route, o.ticked())); err != nil {
			return err
		}
	}
	if shown == 0 {
		_, err = fmt.Fprintln(s.out, "none")
	}
	return err
}

// atVisit is what commands about a visit of the file are given.
type atVisit struct {
	File  string `arg:"" type:"path" help:"File of the day pack."`
	Visit string `arg:"" help:"Id of the visit."`
}

// change opens the file, changes the visit's report and writes the file anew.
func (a atVisit) change(s *surroundings, do func(o *openedPack, visit *vernationv1.Visit, report *vernationv1.Report, read reader) error) error {
	o, err := openPack(a.File)
	if err != nil {
		return err
	}
	visit, err := o.visit(a.Visit)
	if err != nil {
		return err
	}
	p, err := offlinePrinter(s)
	if err != nil {
		return err
	}
	report := o.report(visit)
	if err := do(o, visit, report, o.reader(visit, p)); err != nil {
		return err
	}
	report.ClientTime = timestamppb.New(s.now())
	return o.save()
}

type packArrive struct {
	atVisit
	At string `help:"When, such as \"2026-03-03 18:51\" by the site's clock. Unset, now." placeholder:"WHEN"`
}

// Run notes it.
func (c packArrive) Run(s *surroundings) error {
	return c.change(s, func(_ *openedPack, _ *vernationv1.Visit, report *vernationv1.Report, read reader) (err error) {
		report.Arrived, err = read.moment(c.At, s.now)
		return err
	})
}

type packLeave struct {
	atVisit
	At   string `help:"When, such as \"2026-03-03 20:07\" by the site's clock. Unset, now." placeholder:"WHEN"`
	Rest string `help:"What came of every work item that was not told, such as done or locked-out." placeholder:"OUTCOME"`
	Note string `help:"What else there is to say." placeholder:"TEXT"`
}

// Run notes it.
func (c packLeave) Run(s *surroundings) error {
	return c.change(s, func(_ *openedPack, _ *vernationv1.Visit, report *vernationv1.Report, read reader) (err error) {
		if report.GetArrived() == nil {
			return usage{fmt.Errorf("when %s began is not noted: note it first with `vernation technician pack arrive`", c.Visit)}
		}
		if c.Rest != "" {
			outcome, err := enumValue(vernationv1.Outcome(0).Descriptor(), c.Rest)
			if err != nil {
				return usage{fmt.Errorf("--rest: %w", err)}
			}
			report.RestOutcome = vernationv1.Outcome(outcome.Enum())
		}
		if c.Note != "" {
			report.Note = c.Note
		}
		report.Left, err = read.moment(c.At, s.now)
		return err
	})
}

// moment reads when something was; now when it is empty.
func (r reader) moment(text string, now func() time.Time) (*timestamppb.Timestamp, error) {
	if text == "" {
		return timestamppb.New(now()), nil
	}
	at, err := r.instant(text)
	if err != nil {
		return nil, usage{err}
	}
	return timestamppb.New(at), nil
}

type packPost struct {
	File string `arg:"" type:"path" help:"File of the day pack."`
}

// Run posts the complete reports one by one, so that one that is refused holds up no other, and notes each in the file.
func (c packPost) Run(s *surroundings) error {
	o, err := openPack(c.File)
	if err != nil {
		return err
	}
	by, err := s.common.settle()
	if err != nil {
		return err
	}
	ctx, cancel := by.bounded(s.ctx)
	defer cancel()
	server, err := by.dial(ctx)
	if err != nil {
		return err
	}
	defer func() { _ = server.Close() }() // all is told by then
	var refused []error
	for i, report := range o.reports {
		kept := o.file.Reports[i]
		switch {
		case kept.Posted:
			continue
		case report.GetLeft() == nil:
			_, _ = fmt.Fprintf(s.out, "%s: not posted, it is still going on: note when it ended with `vernation technician pack leave`\n", id(report.GetVisit()))
			continue
		}
		if err := o.post(ctx, s, server, i); err != nil {
			refused = append(refused, fmt.Errorf("%s: %w", id(report.GetVisit()), err))
		}
	}
	return errors.Join(refused...)
}

// post posts report i and says what follows from it.
func (o *openedPack) post(ctx context.Context, s *surroundings, server *client.Client, i int) error {
	kept, report := o.file.Reports[i], proto.CloneOf(o.reports[i])
	stored, err := server.Reports().CreateReport(ctx, &vernationv1.CreateReportRequest{
		Parent: strings.Join(strings.Split(o.pack.GetTechnician(), "/")[:2], "/"), ReportId: kept.ID, Report: report, RequestId: kept.ID,
	})
	if err != nil {
		return err
	}
	kept.Posted = true
	if err := o.save(); err != nil {
		return err
	}
	_, _ = fmt.Fprintf(s.out, "%s: posted as %s\n", id(report.GetVisit()), id(stored.GetName()))
	for _, follows := range stored.GetConsequences() {
		_, _ = fmt.Fprint(s.out, wrap("  ", follows.GetItem()+": "+follows.GetText(), pageWidth))
	}
	for _, deviation := range stored.GetDeviations() {
		_, _ = fmt.Fprint(s.out, wrap("  Deviation, rule "+enumText(deviation, "rule")+": ", deviation.GetText(), pageWidth))
	}
	return nil
}
