package sim

import (
	"fmt"
	"math"
	"time"

	"ridethrough/sim/internal/core/budget"
	"ridethrough/sim/internal/core/study"
	"ridethrough/sim/internal/core/vtime"
)

// NotEver is a time of a [Budget] that does not come.
const NotEver time.Duration = math.MaxInt64

// What a command and an acceptance report ask of a [Budget] unless somebody says
// otherwise.
const (
	UsualMargin        = time.Duration(budget.UsualMargin) * time.Millisecond // see [BudgetOptions]
	UsualStopMarginPct = budget.UsualStopPct
)

// BudgetOptions are what a [Budget] is asked for.
type BudgetOptions struct {
	Begin         *time.Duration // the first order to stop, from the loss of the mains; nil: as the scenario's policy decides
	Margin        time.Duration  // that the battery has to carry on after the last stop
	StopMarginPct float64        // by how many percent stop times are taken to be longer than in the scenario
	// StopSpreadPct has each stop time vary by itself: most likely as it is, and less and
	// less likely up to so many percent longer. Every host has to be clean in the share
	// Probability, 0..1, of Draws draws. 0: nothing varies.
	StopSpreadPct float64
	// Vary has stop times and loads of the hosts vary as the scenario's [vary] says, on
	// the draws of the first Draws runs of a study.
	Vary        bool
	Probability float64
	Draws       int
}

// Budget is a shutdown held against the battery. Times are from the loss of the mains;
// [NotEver] for one that does not come.
type Budget struct {
	Holds      bool
	Troubles   []string // what no time and no charge helps against
	Conditions []BudgetCondition
	Worst      int           // the condition that has the least to spare, whose hosts and groups follow
	Seen       time.Duration // when a poll sees the outage, at the worst; 0 with a Begin of one's own
	Hosts      []BudgetHost
	Groups     []BudgetGroup
	Settings   []BudgetSetting
	Slips      []BudgetSlip // what breaks first; none if the budget does not hold
	// Clean is the share of draws in which every host is clean, in the worst condition.
	Clean float64
}

// BudgetCondition is the outage with the battery of some age at some temperature.
type BudgetCondition struct {
	Name      string
	EndOfLife bool
	TempC     float64
	Runtime   time.Duration // if nobody stopped
	Begins    time.Duration // the first order to stop
	LastStop  time.Duration
	Latest    time.Duration // the latest first order with which every host is clean
	Spare     time.Duration // from Begins to Latest; below 0: too late
	Clean     bool
}

// BudgetHost is what becomes of one host in the worst condition.
type BudgetHost struct {
	Name  string
	Waits time.Duration // from the first order, for those that need it
	Stop  time.Duration // that it is reckoned to take
	Done  time.Duration
	Limit time.Duration // its last outlet opens, or the battery is empty at the load that is left
	Clean bool
}

// BudgetGroup is what becomes of one outlet group in the worst condition.
type BudgetGroup struct {
	Name     string
	LastStop time.Duration // of the hosts on it
	Opens    time.Duration // by order or rule; NotEver: with the battery
	Clean    bool
}

// BudgetSetting is a setting that the budget hangs on. It is a limit in all conditions.
type BudgetSetting struct {
	Name   string // such as "policy.on_battery_for"
	Most   bool   // Needed is the most that it may be, else the least
	Unit   string // "s", "min" or "%"
	AsSet  *int64 // nil: it is not set
	Needed *int64 // nil: no value helps
	Rounds bool   // a write of it is rounded up to what the unit supports
	Write  *int64 // what the unit makes of Needed, where it rounds; nil if it takes none that large
	Used   bool   // something goes by it
	OK     bool   // as set it is right
	What   string // for people
}

// BudgetSlip is how far one number alone may slip before a host is not clean.
type BudgetSlip struct {
	Name    string // such as "hosts.db.stop_takes"
	Unit    string
	Plan    float64
	Limit   float64  // the worst value with which the budget holds
	RoomPct *float64 // from Plan to Limit, of Plan; nil: it has no share
	Breaks  string   // the host that is not clean first beyond it; "": even the end of the scale is borne
}

// Budget works out what the site's shutdown takes against what its battery gives; of a
// site with further units what the first has to do alone, see [Scenario.Alone]. The
// error is an *InvalidError for a fleet, for o.Vary where nothing of the hosts varies,
// for a scenario without a policy if o.Begin is nil, and for one whose unit protects
// nobody.
func (s *Scenario) Budget(o BudgetOptions) (*Budget, error) {
	if err := s.oneSite(); err != nil {
		return nil, err
	}
	s, err := s.Alone("")
	if err != nil {
		return nil, err
	}
	if err := s.budgetable(&o); err != nil {
		return nil, err
	}
	core := &budget.Options{Begin: vtime.Never, Margin: vtime.FromDuration(o.Margin), StopPct: o.StopMarginPct}
	if o.Begin != nil {
		core.Begin = vtime.FromDuration(*o.Begin)
	}
	core.Share = o.Probability
	switch {
	case o.Vary:
		draws, err := s.varied(o.StopMarginPct, o.Draws)
		if err != nil {
			return nil, err
		}
		core.Draws = draws
	case o.StopSpreadPct > 0:
		core.Draws = budget.Draws(s.plan, o.StopMarginPct, o.StopSpreadPct, o.Draws)
	}
	return s.budget(budget.Of(s.plan, core), o.Begin == nil), nil
}

// varied are the draws of a study, as far as they are about hosts.
func (s *Scenario) varied(stopPct float64, count int) (draws []budget.Draw, err error) {
	player, err := study.NewPlayer(s.studySource(nil))
	if err != nil {
		return nil, s.studyError(err)
	}
	for run := 1; run <= count; run++ {
		p, _, err := player.Plan(0, run)
		if err != nil {
			return nil, s.studyError(err)
		}
		draws = append(draws, budget.DrawOf(p, stopPct))
	}
	if !budget.Differ(draws) {
		what := "its [vary] has no stop_takes or draw_w of a host: nothing varies that a budget is asked for; say how much with --stop-spread, or add one"
		return nil, invalidFile(s.name, what)
	}
	return draws, nil
}

func (s *Scenario) budgetable(o *BudgetOptions) error {
	what := ""
	switch {
	case !budget.Protects(s.plan):
		what = "no group of the unit feeds a host: there is nobody to stop; expected a [[host]] on a group that the UPS feeds"
	case s.plan.Policy == nil && o.Begin == nil:
		what = "it has no [policy], so that nobody decides; say with --begin how long after the loss of the mains the first host is told to stop, or add a [policy]"
	default:
		return nil
	}
	return invalidFile(s.name, what)
}

func (s *Scenario) budget(b *budget.Budget, polls bool) *Budget {
	worst := &b.Conditions[b.Worst]
	out := &Budget{Holds: b.Holds, Troubles: b.Troubles, Worst: b.Worst, Clean: b.Held}
	if polls {
		out.Seen = s.plan.Policy.Poll.Duration()
	}
	for i := range b.Conditions {
		c := &b.Conditions[i]
		out.Conditions = append(out.Conditions, BudgetCondition{
			c.Condition.String(), c.EndOfLife, c.TempC, span(c.Runtime), span(c.Decided), span(c.LastStop), span(c.Latest), span(c.Spare), c.Clean,
		})
	}
	for _, h := range worst.Hosts {
		out.Hosts = append(out.Hosts, BudgetHost{s.plan.Hosts[h.Host].Name, span(h.Waits), span(h.Stop), span(h.Done), span(h.Limit), h.Clean})
	}
	for _, g := range worst.Groups {
		out.Groups = append(out.Groups, BudgetGroup{s.plan.Groups[g.Group].Name, span(g.LastStop), span(g.Opens), g.Clean})
	}
	for i := range b.Settings {
		out.Settings = append(out.Settings, s.budgetSetting(&b.Settings[i]))
	}
	for i := range b.Slips {
		out.Slips = append(out.Slips, s.budgetSlip(&b.Slips[i]))
	}
	return out
}

// span is t, which may be none.
func span(t vtime.Tick) time.Duration {
	if t == vtime.Never {
		return NotEver
	}
	return t.Duration()
}

func (s *Scenario) budgetSetting(b *budget.Setting) BudgetSetting {
	row := [...]struct{ name, unit, what string }{
		budget.OnBatteryFor: {"policy.on_battery_for", "s", "time on battery as the only trigger"},
		budget.LowBattery:   {"ups.low_battery_minutes", "min", "upsConfigLowBattTime, low battery as the only trigger"},
		budget.OffDelay:     {"policy.off_delay", "s", "countdown to off, without the battery"},
		budget.GroupDelay:   {"group.%s.off_delay", "s", "off delay of the group, without the battery"},
		budget.MinCharge:    {"policy.min_charge_pct", "%", "charge for restart, mains lost again with all hosts at work"},
		budget.MinBooting:   {"policy.min_charge_pct", "%", "charge for restart, mains lost again as the output comes on"},
	}[b.Kind]
	out := BudgetSetting{Name: row.name, Unit: row.unit, What: row.what, Most: b.Kind == budget.OnBatteryFor, Used: b.Used, OK: b.OK}
	if b.Kind == budget.GroupDelay {
		out.Name = fmt.Sprintf(row.name, s.plan.Groups[b.Group].Name)
	}
	out.AsSet, out.Needed = known(b.AsSet), known(b.Needed)
	if b.Kind == budget.LowBattery {
		out.Rounds, out.Write = true, known(b.Write)
	}
	return out
}

// known is n unless it is below 0.
func known(n int64) *int64 {
	if n < 0 {
		return nil
	}
	return &n
}

func (s *Scenario) budgetSlip(b *budget.Slip) BudgetSlip {
	row := [...]struct{ name, unit string }{
		budget.StopTime:      {"hosts.%s.stop_takes", "s"},
		budget.DrawPct:       {"load of all hosts", "%"},
		budget.CapacityPct:   {"capacity", "%"},
		budget.ChargePct:     {"charge at the loss", "%"},
		budget.Temperature:   {"battery colder", "K"},
		budget.BeginAfter:    {"policy.on_battery_for", "s"},
		budget.LowMinutes:    {"ups.low_battery_minutes", "min"},
		budget.PollEvery:     {"policy.poll_every", "s"},
		budget.HostDeadline:  {"policy.host_deadline", "s"},
		budget.OffCountdown:  {"policy.off_delay", "s"},
		budget.GroupOffDelay: {"group.%s.off_delay", "s"},
	}[b.Number]
	out := BudgetSlip{Name: row.name, Unit: row.unit, Plan: b.Plan, Limit: b.Limit}
	switch {
	case b.Host >= 0:
		out.Name = fmt.Sprintf(row.name, s.plan.Hosts[b.Host].Name)
	case b.Group >= 0:
		out.Name = fmt.Sprintf(row.name, s.plan.Groups[b.Group].Name)
	case b.Number == budget.BeginAfter && b.Begin:
		out.Name = "first order to stop"
	}
	if !math.IsInf(b.RoomPct, 0) {
		room := b.RoomPct
		out.RoomPct = &room
	}
	if b.Breaks >= 0 {
		out.Breaks = s.plan.Hosts[b.Breaks].Name
	}
	return out
}
