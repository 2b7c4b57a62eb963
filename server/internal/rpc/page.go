package rpc

import (
	"strconv"

	"vernation/server/internal/convert"
	"vernation/server/internal/store"
)

// positionAfter reads the position in the order of changes that a page begins after; 0 on the first.
func positionAfter(request convert.Paged) (int64, error) {
	key, err := convert.PageAfter(request)
	if err != nil || key == "" {
		return 0, err
	}
	position, err := strconv.ParseInt(key, 10, 64)
	if err != nil {
		return 0, convert.PageTokenInvalid()
	}
	return position, nil
}

// positionKey is the key of a page that ends with a change.
func positionKey(position int64) string { return strconv.FormatInt(position, 10) }

// paged answers a request for a page: it asks for one row more than the page holds, so that the last page is known
// for what it is. rows gives rows by key, from after a key on; key gives that of a row. next is "" on the last page.
func paged[T any](request convert.Paged, rows func(store.Page) ([]T, error), key func(T) string) (page []T, next string, err error) {
	after, err := convert.PageAfter(request)
	if err != nil {
		return nil, "", err
	}
	size := convert.PageSize(request)
	found, err := rows(store.Page{Size: size + 1, After: after})
	if err != nil || len(found) <= size {
		return found, "", err
	}
	return found[:size], convert.NextPage(request, key(found[size-1])), nil
}
