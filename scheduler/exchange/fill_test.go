package exchange_test

import (
	"reflect"
	"time"

	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
)

// fill puts something other than its zero value into every field of a value, never twice the same number.
func fill(v reflect.Value, words map[string][]string, count *int) {
	*count++
	n := *count
	switch v.Interface().(type) {
	case civil.Zone:
		zone, err := civil.LoadZone("Europe/London")
		if err != nil {
			panic(err)
		}
		v.Set(reflect.ValueOf(zone))
		return
	case quantity.Volume:
		v.Set(reflect.ValueOf(quantity.NewVolume(int64(n), 7, quantity.USFluidOunce)))
		return
	case quantity.Mass:
		v.Set(reflect.ValueOf(quantity.NewMass(int64(n), 7, quantity.Gram)))
		return
	case quantity.Surface:
		v.Set(reflect.ValueOf(quantity.NewSurface(int64(n), 7, quantity.SquareMetre)))
		return
	case civil.Weekday:
		v.SetInt(int64(1 + n%6))
		return
	case time.Duration:
		v.SetInt(int64(n) * 1_000_000_007)
		return
	}
	switch v.Kind() {
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fill(v.Elem(), words, count)
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).Tag.Get("json") != "-" {
				fill(v.Field(i), words, count)
			}
		}
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		fill(v.Index(0), words, count)
		fill(v.Index(1), words, count)
	case reflect.Map:
		key, value := reflect.New(v.Type().Key()).Elem(), reflect.New(v.Type().Elem()).Elem()
		fill(key, words, count)
		fill(value, words, count)
		v.Set(reflect.MakeMap(v.Type()))
		v.SetMapIndex(key, value)
	case reflect.String:
		known := words[v.Type().String()]
		if known == nil {
			known = []string{`text "quoted" & <marked> ` + time.Duration(n).String()}
		}
		v.SetString(known[n%len(known)])
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Float64:
		v.SetFloat(float64(n) / 3)
	case reflect.Uint64:
		v.SetUint(1<<63 + uint64(n))
	default:
		v.SetInt(int64(n))
	}
}
