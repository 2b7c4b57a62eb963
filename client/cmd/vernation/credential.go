package main

import (
	"encoding/base64"
	"encoding/json"
	"strings"
)

// bearer is what a token says of who sends it. It is read and not judged: the server judges it.
type bearer struct {
	Business   string `json:"business"`
	Technician string `json:"technician"`
}

// readBearer reads a token's claims (RFC 7519, section 3), or the credential of an integration key; it is empty when it
// cannot be read.
func readBearer(token string) (who bearer) {
	if parts := strings.Split(token, "~"); len(parts) == 4 {
		return bearer{Business: parts[1]}
	}
	parts := strings.Split(token, ".")
	if len(parts) != 3 {
		return bearer{}
	}
	body, err := base64.RawURLEncoding.DecodeString(parts[1])
	if err != nil || json.Unmarshal(body, &who) != nil {
		return bearer{}
	}
	return who
}

// expand writes a name as the contract has it. People leave out what is known: the business, and a technician's own id.
// What they typed is given back where it does not fit, for the server to say what would.
func (b bearer) expand(form, typed string) string {
	if form == "" || strings.HasPrefix(typed, "businesses/") {
		return typed
	}
	var given []string
	if typed != "" {
		given = strings.Split(typed, "/")
	}
	parts := strings.Split(form, "/")
	open := 0
	for _, part := range parts {
		if strings.HasPrefix(part, "{") {
			open++
		}
	}
	known := map[string]string{"{business}": b.Business}
	if missing := open - 1 - len(given); missing == 1 && strings.Contains(form, "{technician}") && b.Technician != "" {
		known["{technician}"] = b.Technician
	} else if missing != 0 {
		return typed
	}
	for i, part := range parts {
		if !strings.HasPrefix(part, "{") {
			continue
		}
		value, ok := known[part]
		if !ok {
			value, given = given[0], given[1:]
		}
		parts[i] = value
	}
	return strings.Join(parts, "/")
}
