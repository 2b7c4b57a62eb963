package calltest

import (
	"encoding/hex"
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"time"

	"buf.build/gen/go/bufbuild/protovalidate/protocolbuffers/go/buf/validate"
	"google.golang.org/genproto/googleapis/api/annotations"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/fieldmaskpb"
	"google.golang.org/protobuf/types/known/timestamppb"
)

// Maker makes requests of one business's caller. It is not safe for concurrent use.
type Maker struct {
	Pool     *Pool
	Business string // businesses/{business}: the caller's
	Now      time.Time
	// Prefix begins every id that a request gives to something new.
	Prefix string
	Rand   *rand.Rand
	made   int
}

// chance is true so often of a hundred times.
func (m *Maker) chance(percent int) bool { return m.Rand.IntN(100) < percent }

// one is one of a list that is not empty.
func one[T any](m *Maker, list []T) T { return list[m.Rand.IntN(len(list))] }

// deepest bounds how far messages in messages are filled.
const deepest = 4

// Request makes a request of a method. Of five, four speak of the caller's business alone, though with the ids of all
// that the pool has heard; the fifth speaks of whatever business.
func (m *Maker) Request(method Method) proto.Message {
	request := method.NewRequest()
	m.fill(request.ProtoReflect(), deepest)
	if m.chance(80) {
		m.rename(request.ProtoReflect())
	}
	return request
}

// rename makes all names in a message the caller's own.
func (m *Maker) rename(message protoreflect.Message) {
	own := func(v protoreflect.Value) protoreflect.Value {
		rest, is := strings.CutPrefix(v.String(), businesses)
		if !is {
			return v
		}
		_, below, deeper := strings.Cut(rest, "/")
		if !deeper {
			return protoreflect.ValueOfString(m.Business)
		}
		return protoreflect.ValueOfString(m.Business + "/" + below)
	}
	message.Range(func(field protoreflect.FieldDescriptor, value protoreflect.Value) bool {
		switch {
		case field.IsMap():
		case field.IsList() && field.Kind() == protoreflect.StringKind:
			for i := range value.List().Len() {
				value.List().Set(i, own(value.List().Get(i)))
			}
		case field.IsList() && field.Message() != nil:
			for i := range value.List().Len() {
				m.rename(value.List().Get(i).Message())
			}
		case field.IsList():
		case field.Kind() == protoreflect.StringKind:
			message.Set(field, own(value))
		case field.Message() != nil:
			m.rename(value.Message())
		}
		return true
	})
}

// fill sets fields: all that are required and some of the others.
func (m *Maker) fill(message protoreflect.Message, depth int) {
	for i := range message.Descriptor().Fields().Len() {
		field := message.Descriptor().Fields().Get(i)
		often := 30
		switch {
		case behaves(field, annotations.FieldBehavior_OUTPUT_ONLY):
			often = 2
		case behaves(field, annotations.FieldBehavior_REQUIRED), behaves(field, annotations.FieldBehavior_IDENTIFIER):
			often = 98
		case field.Name() == "filter", field.Name() == "page_token":
			often = 5
		case field.Name() == "validate_only":
			often = 10
		}
		if m.chance(often) && !field.IsMap() && (depth > 0 || field.Message() == nil) {
			m.set(message, field, depth)
		}
	}
}

// set gives a field a value, or as many as its list may have, up to three.
func (m *Maker) set(message protoreflect.Message, field protoreflect.FieldDescriptor, depth int) {
	if !field.IsList() {
		message.Set(field, m.value(message.NewField(field), message, field, depth))
		return
	}
	message.Clear(field)
	list := message.Mutable(field).List()
	for range 1 + m.Rand.IntN(2) {
		list.Append(m.value(list.NewElement(), message, field, depth))
	}
}

// vary sets a few fields of a message anew.
func (m *Maker) vary(message protoreflect.Message, depth int) {
	for i := range message.Descriptor().Fields().Len() {
		field := message.Descriptor().Fields().Get(i)
		if m.chance(8) && field.Name() != "name" && field.Name() != "etag" && !field.IsMap() && !behaves(field, annotations.FieldBehavior_OUTPUT_ONLY) {
			m.set(message, field, depth)
		}
	}
}

// value makes one value of a field; empty is the type's.
func (m *Maker) value(empty protoreflect.Value, in protoreflect.Message, field protoreflect.FieldDescriptor, depth int) protoreflect.Value {
	rules := rulesOf(field)
	switch field.Kind() {
	case protoreflect.StringKind:
		return protoreflect.ValueOfString(m.text(field, rules))
	case protoreflect.BytesKind:
		return protoreflect.ValueOfBytes([]byte(one(m, junk)))
	case protoreflect.BoolKind:
		return protoreflect.ValueOfBool(m.chance(50))
	case protoreflect.EnumKind:
		if m.chance(3) {
			return protoreflect.ValueOfEnum(protoreflect.EnumNumber(m.Rand.IntN(200) - 1))
		}
		values := field.Enum().Values()
		return protoreflect.ValueOfEnum(values.Get(min(1+m.Rand.IntN(values.Len()), values.Len()-1)).Number())
	case protoreflect.Int32Kind:
		return protoreflect.ValueOfInt32(int32(m.number(float64(rules.GetInt32().GetGte()), float64(rules.GetInt32().GetLte()))))
	case protoreflect.Int64Kind:
		return protoreflect.ValueOfInt64(int64(m.number(float64(rules.GetInt64().GetGte()), float64(rules.GetInt64().GetLte()))))
	case protoreflect.Uint64Kind:
		return protoreflect.ValueOfUint64(uint64(math.Abs(m.number(0, float64(rules.GetUint64().GetLte())))))
	case protoreflect.DoubleKind:
		return protoreflect.ValueOfFloat64(m.double(rules.GetDouble()))
	case protoreflect.MessageKind:
		return m.message(empty, in, field, depth)
	}
	panic(fmt.Sprintf("no value of a %s", field.Kind()))
}

// message fills a message: often like one that was heard.
func (m *Maker) message(empty protoreflect.Value, in protoreflect.Message, field protoreflect.FieldDescriptor, depth int) protoreflect.Value {
	kind := field.Message().FullName()
	switch kind {
	case "google.protobuf.Timestamp":
		return protoreflect.ValueOfMessage(timestamppb.New(m.instant()).ProtoReflect())
	case "google.protobuf.Duration":
		rules := rulesOf(field).GetDuration()
		least, most := rules.GetGte().AsDuration(), rules.GetLte().AsDuration()
		return protoreflect.ValueOfMessage(durationpb.New(time.Duration(m.number(least.Seconds(), most.Seconds())) * time.Second).ProtoReflect())
	case "google.protobuf.FieldMask":
		return protoreflect.ValueOfMessage(m.mask(in.Descriptor()).ProtoReflect())
	}
	if heard := m.Pool.messages[kind]; len(heard) > 0 && m.chance(70) {
		like := proto.Clone(one(m, heard)).ProtoReflect()
		m.vary(like, depth-1)
		return protoreflect.ValueOfMessage(like)
	}
	m.fill(empty.Message(), depth-1)
	return empty
}

// instant is mostly near now.
func (m *Maker) instant() time.Time {
	if m.chance(5) {
		return one(m, []time.Time{{}, time.Unix(0, 0), time.Date(9999, 12, 31, 0, 0, 0, 0, time.UTC)})
	}
	return m.Now.Add(time.Duration(m.Rand.IntN(60*24*30)-60*24*20) * time.Minute)
}

// mask names fields of the resource that stands beside it.
func (m *Maker) mask(request protoreflect.MessageDescriptor) *fieldmaskpb.FieldMask {
	mask := &fieldmaskpb.FieldMask{}
	for i := range request.Fields().Len() {
		resource := request.Fields().Get(i).Message()
		if resource == nil || resource.ParentFile().Package() != request.ParentFile().Package() {
			continue
		}
		for range 1 + m.Rand.IntN(2) {
			mask.Paths = append(mask.Paths, string(resource.Fields().Get(m.Rand.IntN(resource.Fields().Len())).Name()))
		}
	}
	if m.chance(5) {
		mask.Paths = append(mask.Paths, one(m, junk))
	}
	return mask
}

// number lies between bounds, nearer to the lower one; now and then it lies outside. Without an upper bound there is none.
func (m *Maker) number(least, most float64) float64 {
	if most < least {
		most = math.MaxInt32
	}
	switch {
	case m.chance(2):
		return most + 1
	case m.chance(2):
		return least - 1
	}
	return min(least+float64(one(m, []int{0, 1, 1, 2, 3, 5, 14, 60})), most)
}

func (m *Maker) double(rules *validate.DoubleRules) float64 {
	if m.chance(3) {
		return one(m, []float64{math.NaN(), math.Inf(1), -1e300, 1e300})
	}
	return min(rules.GetGte()+m.Rand.Float64()*60, max(rules.GetLte(), rules.GetGte()))
}

// junk is what no field wants, or nearly none.
var junk = []string{
	"", " ", "\x00", "\u202e", "*", "'; DROP TABLE site; --", "businesses/", "businesses//", "businesses/demo-rounds/sites/", "sites",
	"-1", "99999999999999999999", "2026-02-30", "1/0 L", "{}", "%s%n", strings.Repeat("a", 70), strings.Repeat("ü", 5000), "name desc", "display_name = \"",
}

// text is mostly one that the field may hold.
func (m *Maker) text(field protoreflect.FieldDescriptor, rules *validate.FieldRules) string {
	form := wanted(rules)
	heard := m.Pool.texts[field.FullName()]
	switch {
	case m.chance(2):
		return one(m, junk)
	case field.Name() == "request_id":
		return m.uuid()
	case field.Name() == "etag" && len(heard) > 0:
		return one(m, heard)
	case form != nil && strings.HasPrefix(form.String(), "^"+businesses):
		if names := m.Pool.Names(form); len(names) > 0 && m.chance(95) {
			return one(m, names)
		}
		return sample(m.Rand, form)
	case form != nil && strings.HasSuffix(string(field.Name()), "_id") && field.ContainingMessage().Fields().ByName("parent") != nil && m.chance(80):
		m.made++
		return fmt.Sprintf("%s%d", m.Prefix, m.made)
	case field.Name() == "first_on" || field.Name() == "on" || strings.HasSuffix(string(field.Name()), "_on"):
		return m.Now.AddDate(0, 0, m.Rand.IntN(30)-10).Format(time.DateOnly)
	case len(heard) > 0 && m.chance(80):
		return one(m, heard)
	case form != nil:
		return sample(m.Rand, form)
	}
	m.made++
	return fmt.Sprintf("%s text %d", m.Prefix, m.made)
}

// uuid is a random one (RFC 9562, version 4) of the maker's seed.
func (m *Maker) uuid() string {
	var b [16]byte
	for i := range b {
		b[i] = byte(m.Rand.Uint32())
	}
	b[6], b[8] = b[6]&0x0f|0x40, b[8]&0x3f|0x80
	text := hex.EncodeToString(b[:])
	return strings.Join([]string{text[:8], text[8:12], text[12:16], text[16:20], text[20:]}, "-")
}

// rulesOf are the rules of a field, or of the items of a list.
func rulesOf(field protoreflect.FieldDescriptor) *validate.FieldRules {
	rules, _ := proto.GetExtension(field.Options(), validate.E_Field).(*validate.FieldRules)
	if field.IsList() {
		rules = rules.GetRepeated().GetItems()
	}
	return rules
}

var matches = regexp.MustCompile(`^this\.matches\('(.*)'\)$`)

// wanted is the form that the contract asks of a text, or nil.
func wanted(rules *validate.FieldRules) *regexp.Regexp {
	for _, rule := range rules.GetCel() {
		if found := matches.FindStringSubmatch(rule.GetExpression()); found != nil {
			return regexp.MustCompile(strings.ReplaceAll(found[1], `\\`, `\`))
		}
	}
	return nil
}

func behaves(field protoreflect.FieldDescriptor, as annotations.FieldBehavior) bool {
	behaviours, _ := proto.GetExtension(field.Options(), annotations.E_FieldBehavior).([]annotations.FieldBehavior)
	return slices.Contains(behaviours, as)
}

// Own makes all names in a request those of the caller's business.
func (m *Maker) Own(request proto.Message) { m.rename(request.ProtoReflect()) }
