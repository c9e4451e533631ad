// Package provenance says where a figure of the model comes from. A package that
// has figures of its own lists them with this beside their values.
package provenance
