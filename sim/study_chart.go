package sim

// Charts are pictures of the study by their names: "success", "margin" and
// "sensitivity". One for which nothing was measured is not there.
func (r *StudyResult) Charts() (names []string, charts []*Chart) {
	for _, c := range r.result.Charts() {
		names, charts = append(names, c.Name), append(charts, &Chart{c.Chart})
	}
	return names, charts
}
