package apitest

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"slices"
	"strings"

	"github.com/pb33f/libopenapi"
	validator "github.com/pb33f/libopenapi-validator"
	"github.com/pb33f/libopenapi-validator/config"
	"github.com/pb33f/libopenapi-validator/errors"
	v3 "github.com/pb33f/libopenapi/datamodel/high/v3"
)

// Document is the description of the bench.
type Document struct {
	model *v3.Document
	valid validator.Validator
}

// Read reads the description at path. The error says what is wrong with it.
func Read(path string) (*Document, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	whole, err := load(text)
	if err != nil {
		return nil, err
	}
	if ok, wrong := whole.valid.ValidateDocument(); !ok {
		return nil, oneOf(wrong)
	}
	narrow, err := closed(text)
	if err != nil {
		return nil, err
	}
	return load(narrow)
}

func load(text []byte) (*Document, error) {
	doc, err := libopenapi.NewDocument(text)
	if err != nil {
		return nil, err
	}
	model, err := doc.BuildV3Model()
	if err != nil {
		return nil, err
	}
	v, errs := validator.NewValidator(doc, config.WithFormatAssertions())
	if len(errs) > 0 {
		return nil, errs[0]
	}
	return &Document{&model.Model, v}, nil
}

// closed is the document with objects that have no other properties than those it
// names: clients have to bear others, but here they would be forgotten ones.
func closed(text []byte) ([]byte, error) {
	var doc any
	if err := json.Unmarshal(text, &doc); err != nil {
		return nil, err
	}
	narrow(doc)
	return json.Marshal(doc)
}

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

func oneOf(wrong []*errors.ValidationError) error {
	var lines []string
	for _, w := range wrong {
		line := w.Message + ": " + w.Reason
		for _, s := range w.SchemaValidationErrors {
			line += fmt.Sprintf("; %s at %s", s.Reason, s.KeywordLocation)
		}
		lines = append(lines, line)
	}
	return fmt.Errorf("%s", strings.Join(lines, "\n"))
}

// Operations are the methods and paths of the document, such as "GET /readyz", each
// with the codes of its answers.
func (d *Document) Operations() map[string][]string {
	all := map[string][]string{}
	for path, item := range d.model.Paths.PathItems.FromOldest() {
		for method, o := range item.GetOperations().FromOldest() {
			var codes []string
			for code := range o.Responses.Codes.FromOldest() {
				codes = append(codes, code)
			}
			slices.Sort(codes)
			all[strings.ToUpper(method)+" "+path] = codes
		}
	}
	return all
}

// Request says what is wrong with a request; body is what it sends.
func (d *Document) Request(r *http.Request, body []byte) error {
	r = r.Clone(r.Context())
	r.Body = io.NopCloser(bytes.NewReader(body))
	if ok, wrong := d.valid.ValidateHttpRequestSync(r); !ok {
		return oneOf(wrong)
	}
	return nil
}

// Answer says what is wrong with an answer to r that has body.
func (d *Document) Answer(r *http.Request, code int, header http.Header, body []byte) error {
	answer := &http.Response{StatusCode: code, Header: header, Body: io.NopCloser(bytes.NewReader(body)), Request: r}
	if ok, wrong := d.valid.ValidateHttpResponse(r, answer); !ok {
		return oneOf(wrong)
	}
	return nil
}
