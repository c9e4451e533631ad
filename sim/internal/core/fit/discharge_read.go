package fit

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
)

// Moment is a line of a recorded discharge: seconds since its beginning, and volts and
// amperes, or watts in their place, of the whole battery.
type Moment struct {
	Seconds, Volts, Amps, Watts float64
	TempC                       float64 // if Warm
	Warm                        bool
	Line                        int
}

// maxMoments bounds a file.
const maxMoments = 1 << 20

// ReadMoments reads a recorded discharge as comma-separated text: comment lines that
// begin with #, the line of names seconds,volts,amps or seconds,volts,watts, each with or
// without ,temp_c, and then rows whose seconds rise. What is wrong with a line is a
// *[LineError].
func ReadMoments(r io.Reader) ([]Moment, error) {
	var list []Moment
	names := ""
	lines := bufio.NewScanner(r)
	lines.Buffer(make([]byte, maxLine), maxLine)
	n := 0
	for lines.Scan() {
		n++
		line := strings.TrimSpace(lines.Text())
		switch {
		case line == "" || strings.HasPrefix(line, "#"):
		case names == "":
			if !slices.Contains(momentNames, line) {
				return nil, &LineError{n, "want the column names " + strings.Join(momentNames, " or ")}
			}
			names = line
		case len(list) == maxMoments:
			return nil, &LineError{n, fmt.Sprintf("more than %d rows", maxMoments)}
		default:
			m, err := parseMoment(line, names)
			if err == nil && len(list) > 0 && m.Seconds <= list[len(list)-1].Seconds {
				err = errors.New("seconds do not rise")
			}
			if err != nil {
				return nil, &LineError{n, err.Error()}
			}
			m.Line = n
			list = append(list, m)
		}
	}
	switch err := lineError(lines.Err(), n+1); {
	case err != nil:
		return nil, err
	case len(list) == 0:
		return nil, errors.New("there are no rows in it")
	}
	return list, nil
}

var momentNames = []string{"seconds,volts,amps", "seconds,volts,watts", "seconds,volts,amps,temp_c", "seconds,volts,watts,temp_c"}

func parseMoment(line, names string) (m Moment, err error) {
	fields, columns := strings.Split(line, ","), strings.Split(names, ",")
	if len(fields) != len(columns) {
		return m, fmt.Errorf("%d columns, want %d", len(fields), len(columns))
	}
	for i, to := range []struct {
		value     *float64
		low, high float64
	}{{&m.Seconds, 0, 1e7}, {&m.Volts, 1, 2000}, {&m.Amps, 0, 1e5}, {&m.TempC, -40, 90}}[:len(fields)] {
		x, err := strconv.ParseFloat(strings.TrimSpace(fields[i]), 64)
		if err != nil || !(x >= to.low && x <= to.high) {
			return m, fmt.Errorf("%s %q: want a number from %g to %g", columns[i], fields[i], to.low, to.high)
		}
		*to.value = x
	}
	m.Warm = len(fields) == 4
	if columns[2] == "watts" {
		m.Watts, m.Amps = m.Amps, 0
	}
	return m, nil
}

// Samples are moments as a cell of one string has them. Of watts the current follows
// from the voltage.
func Samples(moments []Moment, cells, strings int) []Sample {
	out := make([]Sample, len(moments))
	for i, m := range moments {
		amps := m.Amps
		if m.Watts > 0 {
			amps = m.Watts / m.Volts
		}
		out[i] = Sample{Hours: (m.Seconds - moments[0].Seconds) / 3600, Volts: m.Volts / float64(cells), Amps: amps / float64(strings), Line: m.Line}
	}
	return out
}
