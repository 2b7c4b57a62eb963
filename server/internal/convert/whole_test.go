package convert_test

import (
	"fmt"
	"reflect"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/mayapply"
	"vernation/scheduler/quantity"
	"vernation/server/internal/convert"
	"vernation/server/internal/firm"
)

// samples are values of the types that not any text or number can be.
var samples = func() map[reflect.Type]reflect.Value {
	values := map[reflect.Type]reflect.Value{}
	for _, sample := range []any{
		quantity.NewVolume(5, 2, quantity.USFluidOunce), quantity.NewMass(9, 2, quantity.Gram), quantity.MadeUpTo, civil.NewDate(2026, 3, 2), civil.Weekday(3),
		catalogue.Drench, catalogue.Office, catalogue.Concentrate, catalogue.EntryHours, catalogue.ExtentWhole, catalogue.Assumption, firm.PriceSetting,
		catalogue.Stands, course.LeastLag, course.KindApplication, course.AtTreatmentPlace, course.WaitPart, course.Clear, course.Confirmed, course.Living, course.OutcomeDone,
		scheduler.RuleLabel, 20 * time.Minute, mayapply.RuleShut, mayapply.Asks, course.Swapped, course.CheaperReplacement,
		firm.NounVisit, firm.VisitMoved, firm.DeliveryPending, []byte("secret"),
	} {
		values[reflect.TypeOf(sample)] = reflect.ValueOf(sample)
	}
	return values
}()

// whole returns a value of a type with every exported field set; lists hold one item.
func whole[T any](t *testing.T) T {
	t.Helper()
	var value T
	fillValue(t, reflect.ValueOf(&value).Elem())
	return value
}

func fillValue(t *testing.T, v reflect.Value) {
	t.Helper()
	if sample, ok := samples[v.Type()]; ok {
		v.Set(sample)
		return
	}
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				fillValue(t, v.Field(i))
			}
		}
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fillValue(t, v.Elem())
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 1, 1))
		fillValue(t, v.Index(0))
	case reflect.Map:
		key, item := reflect.New(v.Type().Key()).Elem(), reflect.New(v.Type().Elem()).Elem()
		fillValue(t, key)
		fillValue(t, item)
		v.Set(reflect.MakeMap(v.Type()))
		v.SetMapIndex(key, item)
	case reflect.Bool:
		v.SetBool(true)
	case reflect.String:
		v.SetString("id-1")
	case reflect.Int, reflect.Int8, reflect.Int32, reflect.Int64:
		v.SetInt(7)
	case reflect.Uint8:
		v.SetUint(1)
	case reflect.Float64:
		v.SetFloat(0.5)
	default:
		t.Fatalf("no value of a %v", v.Type())
	}
}

// unset lists the fields of a message, however deep, that nothing is written into.
func unset(at string, message protoreflect.Message) []string {
	var missing []string
	fields := message.Descriptor().Fields()
	for i := range fields.Len() {
		field := fields.Get(i)
		path := fmt.Sprintf("%s.%s", at, field.Name())
		switch {
		case !message.Has(field):
			missing = append(missing, path)
		case field.Message() == nil || field.Message().ParentFile().Package() != "vernation.v1":
		case field.IsList():
			missing = append(missing, unset(path, message.Get(field).List().Get(0).Message())...)
		default:
			missing = append(missing, unset(path, message.Get(field).Message())...)
		}
	}
	return missing
}

func TestMessages_EveryFieldThatGoesOutIsWritten(t *testing.T) {
	t.Parallel()
	cost := scheduler.Cost{Total: 3, Parts: map[scheduler.CostPart]quantity.Money{scheduler.CostTravel: 1, scheduler.CostPaid: 2}}
	for _, message := range []proto.Message{
		convert.Course(names, whole[firm.Case](t), whole[course.Course](t)),
		convert.Case(names, whole[firm.CaseStory](t)),
		convert.Technician(names, whole[firm.Kept[firm.CrewMember]](t)),
		convert.Absence(names, whole[firm.Kept[firm.Absence]](t), []scheduler.VisitID{"v"}),
		convert.Policy(names, wholePolicy(t)),
		convert.Holiday(names, whole[firm.Kept[firm.Holiday]](t)),
		convert.Violations(names, []scheduler.Violation{whole[scheduler.Violation](t)})[0],
		convert.Reasons([]scheduler.Reason{whole[scheduler.Reason](t)})[0],
		convert.Cost(cost),
		convert.ApplicationAnswer(names, wholeAnswer(t)),
		convert.PlantEvent(names, whole[firm.PlantEvent](t)),
		convert.Change(names, whole[firm.Acknowledged](t)),
		convert.WebhookWithSecret(names, whole[firm.Webhook](t)),
		convert.Delivery(names, whole[firm.Delivery](t)),
		convert.IntegrationKey(names, whole[firm.IntegrationKey](t), time.Time{}),
		convert.WholeNotice(names, wholeSentNotice(t), wholeNoticeText(t)),
		convert.Measures(names, whole[firm.Measures](t)),
		convert.Record(names, whole[firm.Record](t)),
	} {
		for _, path := range unset(string(message.ProtoReflect().Descriptor().Name()), message.ProtoReflect()) {
			t.Errorf("%s is never written", path)
		}
	}
}

// wholePolicy is a policy with every field set, in a zone that there is.
func wholePolicy(t *testing.T) firm.Policy {
	t.Helper()
	told := whole[firm.Policy](t)
	zone, err := civil.LoadZone("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	told.Zone = zone
	return told
}

// wholeSentNotice is a notice with every field set.
func wholeSentNotice(t *testing.T) firm.SentNotice {
	t.Helper()
	told := whole[firm.SentNotice](t)
	told.State, told.Sendings[0].Way = firm.NoticeDue, firm.ByLetter
	return told
}

// wholeNoticeText is the text of a notice with every field set.
func wholeNoticeText(t *testing.T) firm.NoticeText {
	t.Helper()
	told := whole[firm.NoticeText](t)
	told.Wording = firm.OwnWording
	return told
}

// wholeAnswer is an answer with every field set, in a zone that there is.
func wholeAnswer(t *testing.T) firm.WishAnswer {
	t.Helper()
	told := whole[firm.WishAnswer](t)
	zone, err := civil.LoadZone("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	told.Zone = zone
	return told
}

func TestCost_PartsStandInTheirOrderAndAddUp(t *testing.T) {
	t.Parallel()
	var cost scheduler.Cost
	for i, part := range scheduler.CostParts {
		cost.Add(part, quantity.Money(i)) // the first is 0 and is left out
	}
	written := convert.Cost(cost)
	if len(written.GetParts()) != len(scheduler.CostParts)-1 {
		t.Fatalf("%d parts, want %d: those that are not zero", len(written.GetParts()), len(scheduler.CostParts)-1)
	}
	sum := int64(0)
	for i, part := range written.GetParts() {
		if int(part.GetPart()) != i+2 {
			t.Errorf("part %d is %v", i, part.GetPart())
		}
		sum += part.GetAmountMinor()
	}
	if sum != written.GetTotalMinor() {
		t.Errorf("the parts add up to %d, the total is %d", sum, written.GetTotalMinor())
	}
}

func TestTechnician_OthersThanTheOfficeSeeNoPay(t *testing.T) {
	t.Parallel()
	member := whole[firm.Kept[firm.CrewMember]](t)
	if pay := convert.WithoutPay(names, member).GetPaidMinorPerMinute(); pay != 0 {
		t.Errorf("pay %d is told", pay)
	}
}
