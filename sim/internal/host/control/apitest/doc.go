// Package apitest holds requests and answers of a bench against docs/openapi.json.
// It is for tests only.
package apitest
