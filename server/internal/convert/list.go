package convert

import (
	"google.golang.org/protobuf/reflect/protoreflect"

	"vernation/server/internal/listing"
)

// text declares a field of a list that holds a text.
func text(name string) listing.Field { return listing.Field{Name: name} }

// named declares a field of a list that holds a resource name: it is compared, and put in order, by its last id.
func named(name string) listing.Field {
	return listing.Field{Name: name, Stored: func(told string) string { return ID[string](told) }}
}

// truth declares a field of a list that is true or false.
func truth(name string) listing.Field { return listing.Field{Name: name, Kind: listing.Truth} }

// deleteTime is the field of when something was deleted.
var deleteTime = listing.Field{Name: "delete_time", Kind: listing.Instant, Unordered: true}

// enumValue is a value of an enum of the contract.
type enumValue interface {
	~int32
	protoreflect.Enum
}

// word declares a field of a list that holds a value of an enum.
func word[E enumValue, W ~string](name string, in table[E, W]) listing.Field {
	var none E
	return listing.Field{Name: name, Kind: listing.Word, Enum: none.Type(), Stored: func(told string) string {
		return string(in.word(E(none.Descriptor().Values().ByName(protoreflect.Name(told)).Number())))
	}}
}
