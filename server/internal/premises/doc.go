// Package premises holds the deeds that set a business up: clients, sites, plants, products, crew and services. Each
// says everything that is wrong with a value at once, and stores nothing then.
package premises
