package convert_test

import (
	"encoding"
	"errors"
	"reflect"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
	"vernation/server/internal/convert"
	"vernation/server/internal/fault"
)

type fieldError = catalogue.FieldError

// notInTheMessage are fields of the domain that the contract says otherwise: an id stands beside the message, a
// watering is a service, a plant's site is part of its area's name.
var notInTheMessage = map[string]bool{
	"site.id": true, "plant.id": true, "product.id": true, "plant.site": true, "plant.watering": true,
	"plant.tolerance.standing": true, "product.lawful_because": true,
}

func TestContractPaths_EveryFieldOfTheDomainIsOneOfTheContract(t *testing.T) {
	t.Parallel()
	for _, told := range []struct {
		path    string
		value   any
		message proto.Message
	}{
		{"site", site.Site{}, &vernationv1.Site{}},
		{"plant", site.Plant{}, &vernationv1.Plant{}},
		{"product", catalogue.Product{}, &vernationv1.Product{}},
	} {
		eachPath(told.path, reflect.TypeOf(told.value), func(path string) {
			inContract := convert.ContractPath(path)
			if !resolves(told.message.ProtoReflect().Descriptor(), strings.Split(inContract, ".")[1:]) {
				t.Errorf("%s is told as %s, which the contract does not have", path, inContract)
			}
		})
	}
}

// eachPath walks the fields of a type by their names in JSON, without places in lists.
func eachPath(at string, typed reflect.Type, see func(path string)) {
	for typed.Kind() == reflect.Pointer || typed.Kind() == reflect.Slice {
		typed = typed.Elem()
	}
	text := reflect.TypeFor[encoding.TextMarshaler]()
	if typed.Kind() != reflect.Struct || typed.Implements(text) {
		return
	}
	for i := range typed.NumField() {
		field := typed.Field(i)
		name, _, _ := strings.Cut(field.Tag.Get("json"), ",")
		if !field.IsExported() || name == "" {
			continue
		}
		path := at + "." + name
		if notInTheMessage[path] {
			continue
		}
		see(path)
		eachPath(path, field.Type, see)
	}
}

// resolves says whether steps name a field of a message.
func resolves(message protoreflect.MessageDescriptor, steps []string) bool {
	for i, step := range steps {
		if message == nil {
			return false
		}
		field := message.Fields().ByName(protoreflect.Name(step))
		if field == nil {
			return false
		}
		if message = field.Message(); i == len(steps)-1 {
			return true
		}
	}
	return len(steps) > 0
}

func TestContractPaths_KeepPlacesAndReasons(t *testing.T) {
	t.Parallel()
	told := fault.InvalidFields([]fieldError{
		{Path: "site.areas[2].kind", Reason: "UNKNOWN_PLACE", Text: "x"},
		{Path: "site.agreement.shut_areas[0].to", Reason: "WINDOW_INVALID", Text: "y"},
		{Path: "site.areas[1].open_to[3]", Reason: "UNKNOWN_AREA", Text: "z"},
		{Path: "product.lawful_because.GB", Reason: "UNKNOWN_JURISDICTION", Text: "q"},
		{Path: "site.access.weekly[0]", Reason: "WINDOW_INVALID", Text: "r"},
	})
	wantFields(t, convert.ContractPaths(told), map[string]string{
		"site.areas[2].place_kind":          "UNKNOWN_PLACE",
		"site.agreement.shut_areas[0].ends": "WINDOW_INVALID",
		"site.areas[1].open_to_area_ids[3]": "UNKNOWN_AREA",
		"product.lawful_because":            "UNKNOWN_JURISDICTION",
		"site.access.weekly[0]":             "WINDOW_INVALID",
	})
	other := errors.New("not a fault")
	if got := convert.ContractPaths(other); !errors.Is(got, other) {
		t.Errorf("another error became %v", got)
	}
}
