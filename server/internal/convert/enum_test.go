package convert_test

import (
	"slices"
	"testing"

	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	_ "vernation/proto/vernation/v1"
	"vernation/server/internal/convert"
)

// tabled are the enums of the contract that the domain has words for. A role is read from the contract's options.
func tabled() []protoreflect.FullName {
	elsewhere := []protoreflect.FullName{"vernation.v1.Role"}
	var names []protoreflect.FullName
	protoregistry.GlobalFiles.RangeFilesByPackage("vernation.v1", func(file protoreflect.FileDescriptor) bool {
		for i := range file.Enums().Len() {
			if name := file.Enums().Get(i).FullName(); !slices.Contains(elsewhere, name) {
				names = append(names, name)
			}
		}
		return true
	})
	return names
}

func TestEnums_EveryOneOfTheContractHasATable(t *testing.T) {
	t.Parallel()
	for _, name := range tabled() {
		if !slices.ContainsFunc(convert.Tables, func(table convert.Table) bool { return table.Enum.FullName() == name }) {
			t.Errorf("%s has no table", name)
		}
	}
}

func TestEnums_EveryValueMapsToAWordAndBack(t *testing.T) {
	t.Parallel()
	for _, table := range convert.Tables {
		values := table.Enum.Values()
		for i := range values.Len() {
			value := values.Get(i)
			again, known := table.Back(int32(value.Number()))
			if unspecified := value.Number() == 0; known == unspecified {
				t.Errorf("%s: known = %t, want %t", value.FullName(), known, !unspecified)
			}
			if again != int32(value.Number()) {
				t.Errorf("%s comes back as %d", value.FullName(), again)
			}
		}
	}
}
