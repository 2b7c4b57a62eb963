package listing

import (
	"fmt"
	"slices"

	"go.einride.tech/aip/filtering"
	expr "google.golang.org/genproto/googleapis/api/expr/v1alpha1"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// Kind is what the values of a field are.
type Kind int

// The kinds.
const (
	Text    Kind = iota // = != < <= > >= and ":", which asks whether it holds a text, whatever the case
	Texts               // a list of texts; ":" alone
	Number              // a whole number
	Truth               // true or false; = != alone
	Day                 // a civil date
	Instant             // an instant of whole seconds; ":*" asks whether it is set
	Word                // a value of an enum; = != alone
)

// NameField is the field that every noun has: its resource name. It is unique and ends every order.
const NameField = "name"

// Field is one field by which a list may be filtered or put in order.
type Field struct {
	Name string // as the contract writes it, such as agreement.usual_technician
	Kind Kind
	// Enum is of a Word; all its values may be asked for.
	Enum protoreflect.EnumType
	// Stored turns a told text or the name of a value of the enum into the text that is stored; nil is as told.
	Stored func(told string) string
	// Unordered fields do not stand in order_by: lists, and what may be unset.
	Unordered bool
}

// Noun is a list's declaration. It is immutable.
type Noun struct {
	fields       []Field
	usual        string // order_by where none is told
	declarations *filtering.Declarations
}

// Declare declares a noun's list. It panics when the declaration cannot be right: a field twice, no name, a Word
// without its enum.
func Declare(fields ...Field) *Noun {
	noun := &Noun{fields: fields}
	if _, ok := noun.field(NameField); !ok {
		panic("a list without its name cannot be put in order")
	}
	options := []filtering.DeclarationOption{
		filtering.DeclareStandardFunctions(), filtering.DeclareIdent("true", filtering.TypeBool), filtering.DeclareIdent("false", filtering.TypeBool),
	}
	for i, field := range fields {
		if slices.ContainsFunc(fields[:i], func(f Field) bool { return f.Name == field.Name }) {
			panic(fmt.Sprintf("field %s is declared twice", field.Name))
		}
		if field.Kind == Word {
			options = append(options, filtering.DeclareEnumIdent(field.Name, field.Enum))
			continue
		}
		options = append(options, filtering.DeclareIdent(field.Name, typeOf(field.Kind)))
	}
	declarations, err := filtering.NewDeclarations(options...)
	if err != nil {
		panic(fmt.Sprintf("a list cannot be declared: %v", err))
	}
	noun.declarations = declarations
	return noun
}

// By returns the same declaration with the order in which the list comes where none is told; without it that is by name. It panics
// on one that no caller could tell.
func (n *Noun) By(orderBy string) *Noun {
	if _, err := n.order(orderBy); err != nil {
		panic(fmt.Sprintf("the usual order %q cannot be: %v", orderBy, err))
	}
	by := *n
	by.usual = orderBy
	return &by
}

// Fields returns the fields in the order of their declaration.
func (n *Noun) Fields() []Field { return slices.Clone(n.fields) }

func (n *Noun) field(name string) (Field, bool) {
	i := slices.IndexFunc(n.fields, func(f Field) bool { return f.Name == name })
	if i < 0 {
		return Field{}, false
	}
	return n.fields[i], true
}

// typeOf is the filter's type of a kind; a Word has that of its enum. Days are texts that are read afterwards.
func typeOf(kind Kind) *expr.Type {
	switch kind {
	case Texts:
		return filtering.TypeList(filtering.TypeString)
	case Number:
		return filtering.TypeInt
	case Truth:
		return filtering.TypeBool
	case Instant:
		return filtering.TypeTimestamp
	default:
		return filtering.TypeString
	}
}
