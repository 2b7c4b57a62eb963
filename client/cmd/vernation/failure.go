package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"vernation/client"
)

// Exit codes, as the package comment tells them.
const (
	exitDone     = 0
	exitFailed   = 1
	exitUsage    = 2
	exitFields   = 3
	exitNotFound = 4
	exitRefused  = 5
	exitNoRight  = 6
	exitStale    = 7
	exitAway     = 8
)

// usage is an error of the command line.
type usage struct{ error }

// Unwrap is what is wrong.
func (u usage) Unwrap() error { return u.error }

// exitCode is what a command that failed ends with.
func exitCode(err error) int {
	switch {
	case err == nil:
		return exitDone
	case errors.As(err, new(usage)):
		return exitUsage
	case errors.Is(err, context.DeadlineExceeded):
		return exitAway
	}
	switch status.Code(err) {
	case codes.InvalidArgument:
		return exitFields
	case codes.NotFound:
		return exitNotFound
	case codes.FailedPrecondition:
		return exitRefused
	case codes.Unauthenticated, codes.PermissionDenied:
		return exitNoRight
	case codes.Aborted, codes.AlreadyExists:
		return exitStale
	case codes.Unavailable, codes.DeadlineExceeded, codes.ResourceExhausted:
		return exitAway
	}
	return exitFailed
}

// sentence says a failure in the words of the command line: a field by its flag, and what would be right.
func (m *method) sentence(err error) string {
	fields := client.FieldErrors(err)
	if len(fields) == 0 {
		text := client.Sentence(err)
		for _, refusal := range client.Refusals(err) {
			if !strings.Contains(text, refusal.Text) {
				text += "; " + refusal.Text
			}
		}
		return text
	}
	parts := make([]string, len(fields))
	for i, field := range fields {
		parts[i] = fmt.Sprintf("%s: %s", m.flagOf(field.Path), field.Message)
	}
	return strings.Join(parts, "; ")
}

// flagOf is the flag of a field's path; the path itself where it lies deeper.
func (m *method) flagOf(path string) string {
	if m == nil {
		return path
	}
	for _, f := range m.flags {
		names := make([]string, len(f.path))
		for i, field := range f.path {
			names[i] = string(field.Name())
		}
		if rest, ok := strings.CutPrefix(path, strings.Join(names, ".")); ok && !f.silent && (rest == "" || rest[0] == '.' || rest[0] == '[') {
			return label(f) + rest
		}
	}
	return path
}
