package rpc

import (
	"context"
	"fmt"
	"strings"

	"go.einride.tech/aip/fieldmask"
	"google.golang.org/genproto/googleapis/api/annotations"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"vernation/scheduler/catalogue"
	"vernation/server/internal/convert"
	"vernation/server/internal/fault"
	"vernation/server/internal/listing"
	"vernation/server/internal/store"
)

// answered answers a request for a page of a noun's list: rows reads as many as it is asked for. It asks for one row
// more than the page holds, so that the last page is known for what it is.
func answered[T any](noun *listing.Noun, request convert.Listed, rows func(listing.Question) ([]store.Listed[T], error)) (page []T, next string, err error) {
	asked, err := convert.QuestionFrom(noun, request)
	if err != nil {
		return nil, "", err
	}
	size := asked.Size
	asked.Size++
	found, err := rows(asked)
	if err != nil {
		return nil, "", err
	}
	if len(found) > size {
		found, next = found[:size], convert.PageBehind(request, found[size-1].After)
	}
	for _, row := range found {
		page = append(page, row.Value)
	}
	return page, next, nil
}

// updating is a request to change a resource, which is its first field.
type updating interface {
	proto.Message
	GetUpdateMask() *fieldmaskpb.FieldMask
}

// resourceOf returns the field of the resource of a request to change one; nil for any other request.
func resourceOf(request proto.Message) protoreflect.FieldDescriptor {
	if _, ok := request.(updating); !ok {
		return nil
	}
	return request.ProtoReflect().Descriptor().Fields().ByNumber(1)
}

// merged lays what a request to change a resource tells over the resource as it stands, and holds the whole to the
// contract. What it returns is new; name, etag and output only fields are those that stand.
//
// Fails with Invalid: MASK_PATH_UNKNOWN or MASK_PATH_READ_ONLY for paths of the mask, or what the whole breaks.
func merged[M proto.Message](ctx context.Context, request updating, standing M) (M, error) {
	field := resourceOf(request)
	told := proto.Clone(request.ProtoReflect().Get(field).Message().Interface()).(M)
	whole := proto.Clone(standing).(M)
	if err := maskFaults(request.GetUpdateMask(), whole.ProtoReflect().Descriptor()); err != nil {
		return whole, err
	}
	kept := readOnly(told.ProtoReflect().Descriptor())
	for _, f := range kept {
		told.ProtoReflect().Clear(f)
	}
	fieldmask.Update(request.GetUpdateMask(), whole, told)
	for _, f := range kept {
		if standing.ProtoReflect().Has(f) {
			whole.ProtoReflect().Set(f, standing.ProtoReflect().Get(f))
		}
	}
	return whole, underPath(string(field.Name()), callOf(ctx).validate(whole))
}

// readOnly returns the fields of a resource that no update changes.
func readOnly(resource protoreflect.MessageDescriptor) []protoreflect.FieldDescriptor {
	var fields []protoreflect.FieldDescriptor
	for i := range resource.Fields().Len() {
		if field := resource.Fields().Get(i); unchangeable(field) {
			fields = append(fields, field)
		}
	}
	return fields
}

// unchangeable says whether a field says something about the resource that a caller does not decide.
func unchangeable(field protoreflect.FieldDescriptor) bool {
	if field.Name() == "etag" {
		return true
	}
	behaviours, _ := proto.GetExtension(field.Options(), annotations.E_FieldBehavior).([]annotations.FieldBehavior)
	for _, b := range behaviours {
		switch b {
		case annotations.FieldBehavior_OUTPUT_ONLY, annotations.FieldBehavior_IDENTIFIER, annotations.FieldBehavior_IMMUTABLE:
			return true
		}
	}
	return false
}

// maskFaults says which paths of a mask name nothing that can be changed.
func maskFaults(mask *fieldmaskpb.FieldMask, resource protoreflect.MessageDescriptor) error {
	if fieldmask.IsFullReplacement(mask) {
		return nil
	}
	var fields catalogue.FieldErrors
	for i, path := range mask.GetPaths() {
		at := fmt.Sprintf("update_mask.paths[%d]", i)
		within := resource
		for name := range strings.SplitSeq(path, ".") {
			var field protoreflect.FieldDescriptor
			if within != nil {
				field = within.Fields().ByName(protoreflect.Name(name))
			}
			if field == nil {
				fields.Add(at, "MASK_PATH_UNKNOWN", "%q is no field of a %s, or lies inside a list, which is one value: want a path such as %s, or * for everything",
					path, resource.Name(), resource.Fields().Get(1).Name())
				break
			}
			if unchangeable(field) {
				fields.Add(at, "MASK_PATH_READ_ONLY", "%q is not changed by an update: leave it out", path)
				break
			}
			if within = field.Message(); field.IsList() || field.IsMap() {
				within = nil
			}
		}
	}
	return fault.InvalidFields(fields)
}

// underPath puts a path before those of wrong fields.
func underPath(path string, err error) error {
	wrong := fault.Of(err)
	if err == nil || len(wrong.Fields) == 0 {
		return err
	}
	fields := make([]catalogue.FieldError, len(wrong.Fields))
	for i, field := range wrong.Fields {
		fields[i] = field
		fields[i].Path = strings.TrimSuffix(path+"."+field.Path, ".")
	}
	return fault.InvalidFields(fields)
}

// batch does one deed for each request of a batch, in order. Wrong fields of all of them are said at once; any other
// failure ends the batch.
func batch[R, A any](requests []R, do func(R) (A, error)) ([]A, error) {
	answers := make([]A, 0, len(requests))
	var wrong []catalogue.FieldError
	for i, request := range requests {
		answer, err := do(request)
		if err = underPath(fmt.Sprintf("requests[%d]", i), err); err != nil {
			if fields := fault.Of(err).Fields; len(fields) > 0 {
				wrong = append(wrong, fields...)
				continue
			}
			return nil, err
		}
		answers = append(answers, answer)
	}
	return answers, fault.InvalidFields(wrong)
}

// inherit lets the single requests of a batch take parent and request id from the batch where they leave them empty.
func inherit(request proto.Message) {
	whole := request.ProtoReflect()
	list := whole.Descriptor().Fields().ByName("requests")
	if list == nil || !list.IsList() || list.Message() == nil {
		return
	}
	for _, name := range []protoreflect.Name{"parent", "request_id"} {
		of, single := whole.Descriptor().Fields().ByName(name), list.Message().Fields().ByName(name)
		if of == nil || single == nil || of.Kind() != protoreflect.StringKind || single.Kind() != protoreflect.StringKind {
			continue
		}
		requests := whole.Get(list).List()
		for i := range requests.Len() {
			if one := requests.Get(i).Message(); !one.Has(single) {
				one.Set(single, whole.Get(of))
			}
		}
	}
}
