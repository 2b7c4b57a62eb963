package main

import (
	"bytes"
	"compress/gzip"
	_ "embed"
	"io"
	"strings"
	"sync"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protodesc"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
	"google.golang.org/protobuf/types/descriptorpb"

	vernationv1 "vernation/proto/vernation/v1"
)

// packed is the contract with its comments, which generated code leaves out; .ci/generate makes it.
//
//go:embed contract.binpb.gz
var packed []byte

// comments are those of the contract's methods and fields, by full name. Reading them takes some ten milliseconds, so
// only help does.
var comments = sync.OnceValue(func() map[protoreflect.FullName]string {
	said := map[protoreflect.FullName]string{}
	reader, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		panic(err) // it is in the binary
	}
	text, err := io.ReadAll(reader)
	if err != nil {
		panic(err)
	}
	var set descriptorpb.FileDescriptorSet
	if err := proto.Unmarshal(text, &set); err != nil {
		panic(err)
	}
	for _, file := range set.GetFile() {
		described, err := protodesc.NewFile(file, protoregistry.GlobalFiles)
		if err != nil {
			panic(err)
		}
		note := func(d protoreflect.Descriptor) {
			said[d.FullName()] = strings.TrimSpace(described.SourceLocations().ByDescriptor(d).LeadingComments)
		}
		for i := range described.Services().Len() {
			service := described.Services().Get(i)
			note(service)
			for j := range service.Methods().Len() {
				note(service.Methods().Get(j))
			}
		}
		for i := range described.Messages().Len() {
			message := described.Messages().Get(i)
			for j := range message.Fields().Len() {
				note(message.Fields().Get(j))
			}
		}
	}
	return said
})

// services are those of the contract, in the order of their names.
func services() []protoreflect.ServiceDescriptor {
	var all []protoreflect.ServiceDescriptor
	protoregistry.GlobalFiles.RangeFilesByPackage(vernationv1.File_vernation_v1_options_proto.Package(), func(file protoreflect.FileDescriptor) bool {
		for i := range file.Services().Len() {
			all = append(all, file.Services().Get(i))
		}
		return true
	})
	return all
}

// flow splits a comment into its paragraphs, each on one line; a list's items are paragraphs.
func flow(comment string) []string {
	var paragraphs []string
	for _, line := range strings.Split(comment, "\n") {
		line = strings.TrimSpace(line)
		n := len(paragraphs)
		switch {
		case line == "", n == 0, strings.HasPrefix(line, "- "), paragraphs[n-1] == "", strings.HasPrefix(line, "Required"), strings.HasPrefix(line, "Optional"):
			paragraphs = append(paragraphs, line)
		default:
			paragraphs[n-1] += " " + line
		}
	}
	return paragraphs
}
