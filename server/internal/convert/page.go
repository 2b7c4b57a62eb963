package convert

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"vernation/scheduler/catalogue"
	"vernation/server/internal/fault"
	"vernation/server/internal/listing"
)

// Paged is a request for a page of a list.
type Paged interface {
	proto.Message
	GetPageSize() int32
	GetPageToken() string
}

const (
	usualPageSize = 50
	questionBytes = 12 // of the hash that binds a token to its question
)

// PageSize reads how many rows a page may hold; unset is 50.
func PageSize(request Paged) int {
	if size := request.GetPageSize(); size > 0 {
		return int(size)
	}
	return usualPageSize
}

// PageAfter reads the key of the last row of the page before; "" on the first page.
//
// Fails with Invalid (PAGE_TOKEN_INVALID) when the token is none of ours or was given for another question: another
// method, parent or filter. The size of the page may change from page to page.
func PageAfter(request Paged) (string, error) {
	if request.GetPageToken() == "" {
		return "", nil
	}
	token, err := base64.RawURLEncoding.DecodeString(request.GetPageToken())
	if err != nil || len(token) <= questionBytes || !bytes.Equal(token[:questionBytes], question(request)) {
		return "", PageTokenInvalid()
	}
	return string(token[questionBytes:]), nil
}

// PageTokenInvalid is the failure of a token that is none of ours.
func PageTokenInvalid() error {
	return fault.InvalidFields([]catalogue.FieldError{{Path: "page_token", Reason: "PAGE_TOKEN_INVALID",
		Text: "the token was not given by an earlier page of the same question: want next_page_token of the page before, or nothing for the first page"}})
}

// NextPage writes the token of the page that begins after a key.
func NextPage(request Paged, lastKey string) string {
	return base64.RawURLEncoding.EncodeToString(append(question(request), lastKey...))
}

// Listed is a request for a page of a list that may be filtered and put in order.
type Listed interface {
	Paged
	GetFilter() string
	GetOrderBy() string
}

// QuestionFrom reads what a request for a page asks of a noun's list.
//
// Fails with Invalid: FILTER_INVALID, ORDER_INVALID, PAGE_TOKEN_INVALID.
func QuestionFrom(noun *listing.Noun, request Listed) (listing.Question, error) {
	asked, err := noun.Question(request.GetFilter(), request.GetOrderBy())
	if err != nil {
		return listing.Question{}, err
	}
	asked.Size = PageSize(request)
	if deletable, ok := request.(interface{ GetShowDeleted() bool }); ok {
		asked.Deleted = deletable.GetShowDeleted()
	}
	key, err := PageAfter(request)
	if err != nil || key == "" {
		return asked, err
	}
	if err := json.Unmarshal([]byte(key), &asked.After); err != nil || len(asked.After) != len(asked.Order) {
		return listing.Question{}, PageTokenInvalid()
	}
	return asked, nil
}

// PageBehind writes the token of the page that begins after a row.
func PageBehind(request Paged, after []string) string {
	key, err := json.Marshal(after)
	if err != nil {
		panic(fmt.Sprintf("texts cannot be written as JSON: %v", err))
	}
	return NextPage(request, string(key))
}

// question is the hash of what is asked for, whatever the page and however long the caller waits for it.
func question(request Paged) []byte {
	asked := proto.Clone(request)
	message := asked.ProtoReflect()
	for _, name := range []protoreflect.Name{"page_size", "page_token", "wait", "from_now"} {
		if field := message.Descriptor().Fields().ByName(name); field != nil {
			message.Clear(field)
		}
	}
	body, err := proto.MarshalOptions{Deterministic: true}.Marshal(asked)
	if err != nil {
		panic(fmt.Sprintf("a request that arrived cannot be written again: %v", err))
	}
	hash := sha256.Sum256(append([]byte(message.Descriptor().FullName()), body...))
	return hash[:questionBytes]
}
