package apitest

import (
	"bytes"
	_ "embed"
	"fmt"
	"mime"
	"net/http"
	"os"
	"slices"
	"strconv"
	"strings"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// standard is the schema of OpenAPI 3.1 documents, which the OpenAPI Initiative
// publishes at https://spec.openapis.org/oas/3.1/schema/2022-10-07 under the Apache
// License 2.0.
//
//go:embed openapi-3.1.schema.json
var standard []byte

const name = "openapi.json"

// Document is the description of the bench.
type Document struct {
	root    map[string]any
	schemas *jsonschema.Compiler
}

// Read reads the description at path. The error says what is wrong with it.
func Read(path string) (*Document, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	whole, err := load(text)
	if err == nil {
		err = conforms(whole)
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	narrow(whole) // clients have to bear what is not declared; here it would be forgotten
	d := &Document{root: whole.(map[string]any), schemas: jsonschema.NewCompiler()}
	d.schemas.AssertFormat()
	if err := d.schemas.AddResource(name, whole); err != nil {
		return nil, err
	}
	return d, d.compileAll()
}

func load(text []byte) (any, error) { return jsonschema.UnmarshalJSON(bytes.NewReader(text)) }

// conforms holds a document against the standard, and every schema in it against that
// of schemas.
func conforms(doc any) error {
	schema, err := load(standard)
	if err != nil {
		return err
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("standard.json", schema); err != nil {
		return err
	}
	s, err := c.Compile("standard.json")
	if err != nil {
		return err
	}
	return s.Validate(doc)
}

// narrow has objects have no other properties than those that are named.
func narrow(v any) {
	switch v := v.(type) {
	case []any:
		for _, item := range v {
			narrow(item)
		}
	case map[string]any:
		for _, item := range v {
			narrow(item)
		}
		_, object := v["properties"].(map[string]any)
		if _, said := v["additionalProperties"]; object && !said {
			v["additionalProperties"] = false
		}
	}
}

// compileAll compiles the schemas of all bodies, and with them whatever they refer to.
func (d *Document) compileAll() error {
	for operation, codes := range d.Operations() {
		path := d.operation(operation)
		for _, code := range codes {
			answer := d.at(append(slices.Clone(path), "responses", code)...)
			if answer == nil {
				return fmt.Errorf("%s: %s refers to nothing", operation, code)
			}
			if _, err := d.bodies(answer); err != nil {
				return fmt.Errorf("%s: %s: %w", operation, code, err)
			}
		}
		if _, err := d.bodies(d.at(append(slices.Clone(path), "requestBody")...)); err != nil {
			return fmt.Errorf("%s: %w", operation, err)
		}
	}
	return nil
}

// Operations are the methods and paths of the document, such as "GET /readyz", each
// with the codes of its answers.
func (d *Document) Operations() map[string][]string {
	all := map[string][]string{}
	for path, item := range d.root["paths"].(map[string]any) {
		for method, o := range item.(map[string]any) {
			var codes []string
			for code := range o.(map[string]any)["responses"].(map[string]any) {
				codes = append(codes, code)
			}
			slices.Sort(codes)
			all[strings.ToUpper(method)+" "+path] = codes
		}
	}
	return all
}

// operation is where one stands in the document.
func (d *Document) operation(operation string) []string {
	method, path, _ := strings.Cut(operation, " ")
	return []string{"paths", path, strings.ToLower(method)}
}

// at is where something stands, behind its references; nil if it is not there.
func (d *Document) at(path ...string) []string {
	var v any = d.root
	for i, key := range path {
		m, _ := v.(map[string]any)
		if v = m[key]; v == nil {
			return nil
		}
		to, _ := v.(map[string]any)
		if ref, ok := to["$ref"].(string); ok {
			return d.at(append(strings.Split(strings.TrimPrefix(ref, "#/"), "/"), path[i+1:]...)...)
		}
	}
	return path
}

func (d *Document) value(path []string) map[string]any {
	var v any = d.root
	for _, key := range path {
		v = v.(map[string]any)[key]
	}
	m, _ := v.(map[string]any)
	return m
}

// bodies are the schemas of a request or answer that stands at path, by media type.
func (d *Document) bodies(path []string) (map[string]*jsonschema.Schema, error) {
	all := map[string]*jsonschema.Schema{}
	if path == nil {
		return all, nil
	}
	content, _ := d.value(path)["content"].(map[string]any)
	for media := range content {
		pointer := "#"
		for _, key := range append(slices.Clone(path), "content", media, "schema") {
			pointer += "/" + strings.NewReplacer("~", "~0", "/", "~1").Replace(key)
		}
		schema, err := d.schemas.Compile(name + pointer)
		if err != nil {
			return nil, err
		}
		all[media] = schema
	}
	return all, nil
}

// Request says what is wrong with a request; body is what it sends.
func (d *Document) Request(r *http.Request, body []byte) error {
	path := d.at(d.operation(r.Method + " " + r.URL.Path)...)
	if path == nil {
		return fmt.Errorf("there is no %s %s", r.Method, r.URL.Path)
	}
	if err := d.parameters(r, d.value(path)); err != nil {
		return err
	}
	at := d.at(append(path, "requestBody")...)
	if at == nil {
		return nil
	}
	return d.body(at, r.Header.Get("Content-Type"), body)
}

// parameters holds the query against those that are declared.
func (d *Document) parameters(r *http.Request, operation map[string]any) error {
	declared := map[string]any{}
	list, _ := operation["parameters"].([]any)
	for _, p := range list {
		if p := p.(map[string]any); p["in"] == "query" {
			declared[p["name"].(string)] = p["schema"]
		}
	}
	for key, values := range r.URL.Query() {
		if declared[key] == nil {
			return fmt.Errorf("there is no parameter %s", key)
		}
		if schema, _ := declared[key].(map[string]any); schema["type"] == "string" {
			continue
		}
		if _, err := strconv.ParseUint(values[0], 10, 63); err != nil { // all others count something
			return fmt.Errorf("parameter %s: %w", key, err)
		}
	}
	return nil
}

// Answer says what is wrong with an answer to r that has body.
func (d *Document) Answer(r *http.Request, code int, header http.Header, body []byte) error {
	at := d.at(append(d.operation(r.Method+" "+r.URL.Path), "responses", strconv.Itoa(code))...)
	if at == nil {
		return fmt.Errorf("%s %s has no answer %d", r.Method, r.URL.Path, code)
	}
	return d.body(at, header.Get("Content-Type"), body)
}

// body holds what was sent against what stands at path.
func (d *Document) body(path []string, contentType string, body []byte) error {
	schemas, err := d.bodies(path)
	if err != nil {
		return err
	}
	media, _, err := mime.ParseMediaType(contentType)
	if err != nil {
		return fmt.Errorf("Content-Type %q: %w", contentType, err)
	}
	schema := schemas[media]
	if schema == nil {
		return fmt.Errorf("no body of the type %s is described", media)
	}
	var v any = string(body)
	if media == "application/json" {
		if v, err = load(body); err != nil {
			return err
		}
	}
	return schema.Validate(v)
}
