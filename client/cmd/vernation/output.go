package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"io"
	"time"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"vernation/client"
	vernationv1 "vernation/proto/vernation/v1"
)

// printer prints answers.
type printer struct {
	settled
	out      io.Writer
	coloured bool
	places   *places
}

// print prints an answer as it was asked for.
func (p *printer) print(answer proto.Message) error {
	switch p.output {
	case "json":
		text, err := jsonOf(answer)
		if err != nil {
			return err
		}
		_, err = p.out.Write(text)
		return err
	case "csv":
		return p.csv(answer)
	}
	if text, ok := texts[answer.ProtoReflect().Descriptor().Name()]; ok {
		return text(p, answer)
	}
	if items := itemsOf(answer.ProtoReflect().Descriptor()); items != nil {
		return p.list(answer.ProtoReflect().Get(items).List(), items.Message())
	}
	return p.fields(answer.ProtoReflect())
}

// jsonOf is a message as the HTTP port writes it. The marshaller puts spaces at will, so that nobody relies on them; here
// they are always the same.
func jsonOf(message proto.Message) ([]byte, error) {
	text, err := protojson.Marshal(message)
	if err != nil {
		return nil, err
	}
	var even bytes.Buffer
	if err := json.Indent(&even, text, "", "  "); err != nil {
		return nil, err
	}
	even.WriteByte('\n')
	return even.Bytes(), nil
}

// csv prints a row for each item of a list, or one for an answer that is none (RFC 4180). The columns are the fields of
// the contract, those of messages inside with dots between; what repeats stands as JSON in one of them.
func (p *printer) csv(answer proto.Message) error {
	if route, ok := answer.(*vernationv1.DayRoute); ok { // a file that is handed on opens no site
		withoutSecrets(route)
	}
	of := answer.ProtoReflect().Descriptor()
	var rows []protoreflect.Message
	if items := itemsOf(of); items != nil {
		of = items.Message()
		list := answer.ProtoReflect().Get(items).List()
		for i := range list.Len() {
			rows = append(rows, list.Get(i).Message())
		}
	} else {
		rows = append(rows, answer.ProtoReflect())
	}
	columns := columnsOf(of, nil)
	writer := csv.NewWriter(p.out)
	titles := make([]string, len(columns))
	for i, column := range columns {
		titles[i] = column.title()
	}
	if err := writer.Write(titles); err != nil {
		return err
	}
	for _, row := range rows {
		cells := make([]string, len(columns))
		for i, column := range columns {
			cell, err := column.cell(row)
			if err != nil {
				return err
			}
			cells[i] = cell
		}
		if err := writer.Write(cells); err != nil {
			return err
		}
	}
	writer.Flush()
	return writer.Error()
}

// withoutSecrets takes out of a day route what opens its sites.
func withoutSecrets(route *vernationv1.DayRoute) {
	for _, visit := range route.GetVisits() {
		if visit.GetBrief() != nil {
			visit.Brief.AccessSecrets = nil
		}
	}
}

// column is a field within a row.
type column []protoreflect.FieldDescriptor

// columnsOf are those of a message; messages within are spread two deep, so that the contract's own loops end.
func columnsOf(of protoreflect.MessageDescriptor, above column) []column {
	var all []column
	for i := range of.Fields().Len() {
		field := of.Fields().Get(i)
		here := append(append(column{}, above...), field)
		if field.Message() == nil || field.IsList() || simple(field.Message()) || len(here) == 3 {
			all = append(all, here)
			continue
		}
		all = append(all, columnsOf(field.Message(), here)...)
	}
	return all
}

// simple says whether a message is written as one text.
func simple(of protoreflect.MessageDescriptor) bool {
	switch of.FullName() {
	case "google.protobuf.Timestamp", "google.protobuf.Duration", "google.protobuf.FieldMask":
		return true
	}
	return false
}

func (c column) title() string {
	title := ""
	for i, field := range c {
		if i > 0 {
			title += "."
		}
		title += string(field.Name())
	}
	return title
}

// cell is the field of a row as text: as the contract's JSON has it, without quotes.
func (c column) cell(row protoreflect.Message) (string, error) {
	for _, field := range c[:len(c)-1] {
		if !row.Has(field) {
			return "", nil
		}
		row = row.Get(field).Message()
	}
	field := c[len(c)-1]
	if !row.Has(field) {
		return "", nil
	}
	alone := row.New()
	alone.Set(field, row.Get(field))
	text, err := protojson.MarshalOptions{UseProtoNames: true}.Marshal(alone.Interface())
	if err != nil {
		return "", err
	}
	var held map[string]json.RawMessage
	if err := json.Unmarshal(text, &held); err != nil {
		return "", err
	}
	value := held[string(field.Name())]
	var plainText string
	if json.Unmarshal(value, &plainText) == nil {
		return plainText, nil
	}
	var even bytes.Buffer
	if err := json.Compact(&even, value); err != nil {
		return "", err
	}
	return even.String(), nil
}

// places knows what people call sites, and their zones. It asks once, and knows nothing where the caller may not ask.
type places struct {
	ctx      context.Context
	client   *client.Client
	business string
	sites    map[string]*vernationv1.Site
}

// site is that of a name; nil when it is not known.
func (p *places) site(name string) *vernationv1.Site {
	if p.sites == nil {
		p.sites = map[string]*vernationv1.Site{}
		request := &vernationv1.ListSitesRequest{Parent: "businesses/" + p.business, PageSize: 200, ShowDeleted: true}
		for site, err := range client.All(p.ctx, p.client.Sites().ListSites, request, (*vernationv1.ListSitesResponse).GetSites) {
			if err != nil {
				break
			}
			p.sites[site.GetName()] = site
		}
	}
	return p.sites[name]
}

// zoneOf is the zone of a site; that of the command line where it is not known, UTC where that is unset.
func (p *printer) zoneOf(site string) *time.Location {
	if known := p.places.site(site); known != nil {
		if zone, err := time.LoadLocation(known.GetTimeZone()); err == nil {
			return zone
		}
	}
	return p.usualZone()
}

func (p *printer) usualZone() *time.Location {
	if p.zone != nil {
		return p.zone
	}
	return time.UTC
}

// siteName is what people call a site.
func (p *printer) siteName(name string) string {
	if site := p.places.site(name); site != nil && site.GetDisplayName() != "" {
		return site.GetDisplayName()
	}
	return id(name)
}
