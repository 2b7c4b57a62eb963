package main

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"
)

// cellWidthMax bounds the cells of tables that nobody wrote by hand.
const cellWidthMax = 40

// list prints items whose kind has no table of its own: their plain fields, those that none has left out.
func (p *printer) list(items protoreflect.List, of protoreflect.MessageDescriptor) error {
	if own, ok := tables[of.Name()]; ok {
		return p.own(items, own)
	}
	var columns []protoreflect.FieldDescriptor
	for i := range of.Fields().Len() {
		field := of.Fields().Get(i)
		if field.IsList() || field.Message() != nil && !simple(field.Message()) || field.Name() == "etag" || !anyHas(items, field) {
			continue
		}
		columns = append(columns, field)
	}
	var grid table
	for _, field := range columns {
		grid.titles = append(grid.titles, strings.ToUpper(plain(string(field.Name()))))
	}
	for i := range items.Len() {
		item := items.Get(i).Message()
		zone := p.zoneIn(item)
		var cells []string
		for _, field := range columns {
			text := ""
			if item.Has(field) {
				text = p.text(field, item.Get(field), zone)
			}
			cells = append(cells, shorten(id(text), cellWidthMax))
		}
		grid.add(cells...)
	}
	return p.grid(grid)
}

// grid prints a table, or says that there is nothing in it.
func (p *printer) grid(grid table) error {
	if len(grid.rows) == 0 {
		_, err := fmt.Fprintln(p.out, "none")
		return err
	}
	return grid.write(p.out, p.coloured)
}

func anyHas(items protoreflect.List, field protoreflect.FieldDescriptor) bool {
	for i := range items.Len() {
		if items.Get(i).Message().Has(field) {
			return true
		}
	}
	return false
}

// zoneIn is the zone of the site that an item names, or of the item itself.
func (p *printer) zoneIn(item protoreflect.Message) *time.Location {
	fields := item.Descriptor().Fields()
	if field := fields.ByName("time_zone"); field != nil && field.Kind() == protoreflect.StringKind {
		if zone, err := time.LoadLocation(item.Get(field).String()); err == nil && item.Has(field) {
			return zone
		}
	}
	if field := fields.ByName("site"); field != nil && field.Kind() == protoreflect.StringKind && item.Has(field) {
		return p.zoneOf(item.Get(field).String())
	}
	return p.usualZone()
}

// fields prints a message by its fields, those within indented.
func (p *printer) fields(message protoreflect.Message) error {
	var out bytes.Buffer
	p.writeFields(&out, message, "", p.zoneIn(message))
	if out.Len() == 0 {
		out.WriteString("done\n")
	}
	_, err := p.out.Write(out.Bytes())
	return err
}

func (p *printer) writeFields(out *bytes.Buffer, message protoreflect.Message, indent string, zone *time.Location) {
	for i := range message.Descriptor().Fields().Len() {
		field := message.Descriptor().Fields().Get(i)
		if !message.Has(field) {
			continue
		}
		value, title := message.Get(field), indent+plain(string(field.Name()))
		switch {
		case field.IsList():
			p.writeList(out, field, value.List(), title, indent, zone)
		case field.Message() != nil && !simple(field.Message()):
			fmt.Fprintf(out, "%s:\n", title)
			p.writeFields(out, value.Message(), indent+"  ", zone)
		default:
			fmt.Fprintf(out, "%s: %s\n", title, p.text(field, value, zone))
		}
	}
}

func (p *printer) writeList(out *bytes.Buffer, field protoreflect.FieldDescriptor, list protoreflect.List, title, indent string, zone *time.Location) {
	fmt.Fprintf(out, "%s:\n", title)
	for i := range list.Len() {
		if field.Message() == nil || simple(field.Message()) {
			fmt.Fprintf(out, "%s  - %s\n", indent, p.text(field, list.Get(i), zone))
			continue
		}
		var within bytes.Buffer
		p.writeFields(&within, list.Get(i).Message(), indent+"    ", zone)
		text := within.String()
		if len(text) > len(indent)+4 {
			text = indent + "  - " + text[len(indent)+4:]
		}
		out.WriteString(text)
	}
}

// text is a value in words, times in a zone.
func (p *printer) text(field protoreflect.FieldDescriptor, value protoreflect.Value, zone *time.Location) string {
	switch {
	case field.Enum() != nil:
		return plain(enumWord(field.Enum(), value.Enum()))
	case field.Kind() == protoreflect.BoolKind:
		if value.Bool() {
			return "yes"
		}
		return "no"
	case field.Message() != nil:
		switch m := value.Message().Interface().(type) {
		case *timestamppb.Timestamp:
			return m.AsTime().In(zone).Format("2006-01-02 15:04 MST")
		case *durationpb.Duration:
			return m.AsDuration().String()
		}
		return fmt.Sprint(value.Message().Interface())
	case strings.HasSuffix(string(field.Name()), "_minor"):
		return money(value.Int())
	}
	return value.String()
}

// enumText is the enum in a field in words.
func enumText(message proto.Message, name protoreflect.Name) string {
	field := message.ProtoReflect().Descriptor().Fields().ByName(name)
	return plain(enumWord(field.Enum(), message.ProtoReflect().Get(field).Enum()))
}

// money writes minor units: 12345 as 123.45.
func money(minor int64) string {
	sign := ""
	if minor < 0 {
		sign, minor = "-", -minor
	}
	return fmt.Sprintf("%s%d.%02d", sign, minor/100, minor%100)
}
