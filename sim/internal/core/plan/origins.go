package plan

import (
	"strings"

	"ridethrough/sim/internal/phys/provenance"
)

const (
	published = provenance.Published
	memory    = provenance.Memory
	practice  = provenance.Practice
	fitted    = provenance.Fitted
	derived   = provenance.Derived
	ours      = provenance.Ours
)

// Origins is where every physical figure of a plan comes from, in the order in
// which people read them: one row for each numeric field, which a test sees to.
func Origins() []Origin {
	var all []Origin
	for _, part := range [][]Origin{
		cellOrigins, batteryOrigins, chargerOrigins, managementOrigins, estimateOrigins,
		supplyOrigins, unitOrigins,
		losses("UPS.MainsLoss", "ups.mains_loss", "losses", "98 % at full load for VI, 99 % for VFD; VFI 94 %, a worked example", ours),
		losses("UPS.BatteryLoss", "ups.battery_loss", "losses", "94 % at full load", ours),
		losses("UPS.HighEfficiencyLoss", "ups.high_efficiency_loss", "losses", "99 % at full load", ours),
		losses("UPS.BypassLoss", "ups.bypass_loss", "losses", "a static switch", ours),
		bypassOrigins,
		overloads("UPS.Overload", "ups.overload", "of the way from input to output"),
		overloads("UPS.InverterOverload", "ups.inverter_overload", "of the inverter"),
		overloads("UPS.BypassOverload", "ups.bypass_overload", "of the static switch"),
		heatOrigins, roomOrigins, probeOrigins, generatorOrigins,
		overloads("Source.Generator.Overload", "source.generator.overload", "of the generator"),
		changeoverOrigins, hostOrigins,
	} {
		all = append(all, part...)
	}
	return all
}

func losses(field, key, group, why string, kind provenance.Kind) []Origin {
	return []Origin{
		{field + ".NoLoad", group, key + ".no_load", "", 0, kind, why},
		{field + ".Linear", group, key + ".linear", "", 0, kind, why},
		{field + ".Quadratic", group, key + ".quadratic", "", 0, kind, why},
	}
}

func overloads(field, key, what string) []Origin {
	group := "overload"
	if strings.HasPrefix(field, "Source") {
		group = "generator"
	}
	return []Origin{
		{field + ".At125", group, key + ".at_125_pct", "s", 0, practice, what + ": K of t = K/(x^2 - 1)"},
		{field + ".Borne", group, key + ".borne_pct", "%", 100, practice, what + ": for ever"},
		{field + ".Instant", group, key + ".instant_pct", "%", 100, practice, what + ": at once"},
		{field + ".Cools", group, key + ".cools_in", "s", 0, ours, what + ": time constant of cooling down"},
	}
}

var cellOrigins = []Origin{
	{"Battery.Cell.C", "cell", "battery.params.c_ah", "Ah", 0, fitted, ""},
	{"Battery.Cell.Modes[].A", "cell", "battery.params.a*", "", 0, fitted, ""},
	{"Battery.Cell.Modes[].Lambda", "cell", "battery.params.lambda*_per_h", "1/h", 0, fitted, ""},
	{"Battery.Cell.E0", "cell", "battery.params.e0_v", "V", 0, fitted, ""},
	{"Battery.Cell.Es", "cell", "battery.params.es_v", "V", 0, fitted, ""},
	{"Battery.Cell.R", "cell", "battery.params.r_ohm", "ohm", 0, fitted, ""},
	{"Battery.Cell.B", "cell", "battery.params.b_v", "V", 0, fitted, ""},
}

var batteryOrigins = []Origin{
	{"Battery.CapacityAh", "battery", "battery.capacity_ah|battery.params", "Ah in 20 h", 0, fitted, ""},
	{"Battery.BlockCells", "battery", "battery.block", "cells a block", 0, practice, "six cells of lead-acid to a 12 V block, four of lithium iron phosphate"},
	{"Battery.Cells", "battery", "battery.series", "cells in series", 0, ours, "six blocks in series"},
	{"Battery.Strings", "battery", "battery.strings", "strings", 0, ours, "one"},
	{"Battery.ChargePct", "battery", "battery.charge_pct", "%", 0, ours, "full"},
	{"Battery.CutoffV", "battery", "battery.cutoff_v_per_cell", "V", 0, practice, "1.60 to 1.80 V a cell of lead-acid at high rates; 2.80 V of lithium iron phosphate"},
	{"Battery.AmbientC", "temperature", "battery.ambient_c|room.temp_c", "C", 0, practice, "ratings belong to 25 C"},
	{"Battery.Capacity", "ageing", "battery.health.capacity_pct|battery.age_years", "%", 100, derived, "from battery.age_years at battery.ambient_c"},
	{"Battery.Resistance", "ageing", "battery.health.resistance_pct|battery.age_years", "%", 100, derived, "likewise"},
	{"Battery.LifeYears", "ageing", "battery.life_years", "years", 0, practice, "makers sell blocks of 5 and of 10 to 12 years; halved by 8.33 K more (15 F, as most makers say)"},
	{"Battery.SelfDischargePct", "ageing", "battery.self_discharge_pct", "%/month", 0, published, "data sheets: 91, 82, 64 % after 3, 6, 12 months; doubled by 10 K more"},
	{"Battery.Weak.Capacity", "ageing", "battery.weak_block.capacity_pct", "%", 100, ours, ""},
	{"Battery.Weak.Resistance", "ageing", "battery.weak_block.resistance_pct", "%", 100, ours, "as the others"},
	{"Battery.OpenStrings", "ageing", "battery.open_block", "", 0, ours, "none"},
}

var chargerOrigins = []Origin{
	{"Battery.ChargeA", "charger", "battery.charge_a", "A", 0, practice, "0.1 to 0.3 A for each Ah"},
	{"Battery.FloatV", "charger", "battery.float_v_per_cell", "V", 0, published, "13.5 to 13.8 V a block on data sheets; lithium iron phosphate 3.45 V a cell, from memory"},
	{"Battery.FloatMVPerK", "charger", "battery.compensation_mv_per_k", "mV/K", 0, published, "the common rule for lead-acid; data sheets 3.3"},
	{"UPS.GeneratorCharge", "charger", "ups.generator_charge_pct", "%", 100, ours, "no less than on the utility"},
}

var managementOrigins = []Origin{
	{"Battery.Management.LowV", "management", "", "V", 0, memory, "opens the discharge path"},
	{"Battery.Management.ReconnectV", "management", "", "V", 0, memory, "closes it again"},
	{"Battery.Management.HighV", "management", "", "V", 0, memory, "opens the charge path"},
	{"Battery.Management.DischargeA", "management", "", "A", 0, memory, "one hour's current"},
	{"Battery.Management.ChargeA", "management", "", "A", 0, memory, "half of that"},
	{"Battery.Management.ChargeMinC", "management", "", "C", 0, memory, "no charge in the frost"},
	{"Battery.Management.ChargeMaxC", "management", "", "C", 0, memory, ""},
	{"Battery.Management.DischargeMinC", "management", "", "C", 0, memory, ""},
	{"Battery.Management.DischargeMaxC", "management", "", "C", 0, memory, ""},
	{"Battery.Management.GainPct", "management", "battery.estimate.counter_error_pct", "%", 0, memory, "error of the counter of charge"},
	{"Battery.Management.IdleA", "management", "", "A", 0, memory, "what its electronics draw past the counter"},
	{"Battery.Management.FullV", "management", "", "V", 0, memory, "at this and FullA the counter is set to 100 %"},
	{"Battery.Management.FullA", "management", "", "A", 0, memory, ""},
}

var estimateOrigins = []Origin{
	{"Battery.Estimate.Learned", "estimate", "battery.learned", "", 0, practice, "0: the unit takes the cells for new until a calibration"},
	{"Battery.Estimate.Filter", "estimate", "battery.estimate.filter", "s", 0, ours, "0: follows the load at once"},
	{"Battery.Estimate.Quantum", "estimate", "battery.estimate.quantum", "s", 0, ours, "0: no steps"},
	{"Battery.Estimate.GainPct", "estimate", "battery.estimate.counter_error_pct", "%", 0, ours, "lithium iron phosphate 1, from memory"},
	{"UPS.LowBatteryMinutes", "estimate", "ups.low_battery_minutes", "min", 0, practice, "2 to 10 minutes"},
}

var supplyOrigins = []Origin{
	{"Source.Volts", "supply", "source.nominal_v", "V", 0, memory, "IEC 60038"},
	{"Source.Hz", "supply", "source.frequency_hz", "Hz", 0, memory, "IEC 60038"},
}

var unitOrigins = []Origin{
	{"UPS.RatingVA", "unit", "ups.rating_va", "VA", 0, ours, "an invented unit"},
	{"UPS.RatingW", "unit", "ups.rating_w", "W", 0, ours, "an invented unit, at a power factor of 0.9"},
	{"UPS.LinesIn", "unit", "ups.phases", "lines in", 0, ours, "single-phase"},
	{"UPS.LinesOut", "unit", "ups.phases", "lines out", 0, ours, "single-phase"},
	{"UPS.LowTransferV", "windows", "ups.low_transfer_v", "V", 0, practice, "77 % of nominal for VI, 80 % for VFD, 65 % for VFI"},
	{"UPS.HighTransferV", "windows", "ups.high_transfer_v", "V", 0, practice, "122 % of nominal for VI, 115 % for VFD, 125 % for VFI"},
	{"UPS.LowHz", "windows", "ups.low_hz", "Hz", 0, practice, "6 % off nominal, 10 % for VFI"},
	{"UPS.HighHz", "windows", "ups.high_hz", "Hz", 0, practice, "6 % off nominal, 10 % for VFI"},
	{"UPS.HysteresisV", "windows", "ups.hysteresis_v", "V", 0, practice, "2 % of nominal"},
	{"UPS.Qualify", "windows", "ups.qualify", "s", 0, practice, "3 to 20 s"},
	{"UPS.Retransfer.Quick", "windows", "ups.retransfer.quick", "s", 0, ours, "long enough for a generator to fall under the load"},
	{"UPS.Retransfer.Limit", "windows", "ups.retransfer.limit", "", 0, practice, "units count their transfers and hold off; figures differ"},
	{"UPS.Retransfer.Hold", "windows", "ups.retransfer.hold", "s", 0, ours, "likewise"},
	{"UPS.BoostBelowV", "windows", "ups.boost_below_v", "V", 0, practice, "90 % of nominal; VI only"},
	{"UPS.ReduceAboveV", "windows", "ups.reduce_above_v", "V", 0, practice, "110 % of nominal; VI only"},
	{"UPS.Ratio", "windows", "ups.ratio", "", 0, practice, "1.12 to 1.2; VI only"},
	{"UPS.Transfer", "transfer", "ups.transfer", "s", 0, practice, "VI 2 to 10 ms, VFD 4 to 12 ms; VFI none, save past its converters"},
	{"UPS.SlewHzPerS", "transfer", "ups.slew_hz_per_s", "Hz/s", 0, practice, "0.1 to 1 Hz/s"},
	{"UPS.WalkIn", "transfer", "ups.walk_in", "s", 0, practice, "10 to 20 s, evenly; VFI only"},
}

var bypassOrigins = []Origin{
	{"UPS.Bypass.LowV", "bypass", "ups.bypass.low_v", "V", 0, practice, "90 % of nominal"},
	{"UPS.Bypass.HighV", "bypass", "ups.bypass.high_v", "V", 0, practice, "110 % of nominal"},
	{"UPS.Bypass.LowHz", "bypass", "ups.bypass.low_hz", "Hz", 0, practice, "4 % off nominal"},
	{"UPS.Bypass.HighHz", "bypass", "ups.bypass.high_hz", "Hz", 0, practice, "4 % off nominal"},
	{"UPS.Bypass.Gap", "bypass", "ups.bypass.gap", "s", 0, practice, "10 to 20 ms out of step, none in step"},
}

var heatOrigins = []Origin{
	{"UPS.Converter.HeatJPerK", "heat", "ups.heat.heat_j_per_k", "J/K", 0, derived, "a time constant of 20 minutes"},
	{"UPS.Converter.CoolWPerK", "heat", "ups.heat.cool_w_per_k", "W/K", 0, derived, "the losses at full load raise it by 20 K"},
	{"UPS.Converter.NoFan", "heat", "ups.heat.no_fan_pct", "%", 100, ours, "free convection instead of forced"},
	{"UPS.Converter.WarnC", "heat", "ups.heat.warn_c", "C", 0, ours, "the unit itself"},
	{"UPS.Converter.TripC", "heat", "ups.heat.trip_c", "C", 0, ours, "the unit itself"},
	{"UPS.Converter.DerateC", "heat", "ups.heat.derate_from_c", "C", 0, memory, "IEC 62040-3: rated up to 40 C unless the maker says otherwise"},
	{"UPS.Converter.DeratePct", "heat", "ups.heat.derate_pct_per_k", "%/K", 0, practice, "1 to 2 % a kelvin"},
}

var roomOrigins = []Origin{
	{"Room.TempC", "room", "room.temp_c|battery.ambient_c", "C", 0, practice, "as battery.ambient_c"},
	{"Room.OutsideC", "room", "room.outside_c", "C", 0, ours, ""},
	{"Room.HeatJPerK", "room", "room.volume_m3|room.equipment_kg", "J/K", 0, derived, "air at 1.2 kg/m3 and 1005 J/kg/K, equipment at 500 J/kg/K: from memory"},
	{"Room.LeakWPerK", "room", "room.leak_w_per_k", "W/K", 0, ours, ""},
	{"Room.RelHumPct", "room", "room.humidity_pct", "%", 0, ours, "the moisture stays: Magnus formula"},
	{"Room.CoolingW", "room", "room.cooling_w", "W", 0, ours, "0: none"},
	{"Room.SetpointC", "room", "room.setpoint_c", "C", 0, practice, "18 to 27 C at the inlet"},
	{"Room.OwnSupply", "room", "room.cooling_from", "", 0, practice, "0: the cooling stops with the mains"},
	{"Room.CoolAfter", "room", "room.cooling_restarts", "s", 0, practice, "a compressor waits for minutes"},
	{"Room.OtherW", "room", "room.other_heat_w", "W", 0, ours, "none"},
}

var probeOrigins = []Origin{
	{"Probes[].Every", "probe", "probe.*.every", "s", 0, practice, ""},
	{"Probes[].Lag", "probe", "probe.*.lag", "s", 0, ours, "a probe in still air takes minutes"},
	{"Probes[].NoiseK", "probe", "probe.*.noise_k", "K", 0, ours, ""},
	{"Probes[].OffsetK", "probe", "probe.*.offset_k", "K", 0, ours, "its place is as the room"},
}

var generatorOrigins = []Origin{
	{"Source.Generator.RatingW", "generator", "source.generator.rating_w", "W", 0, ours, ""},
	{"Source.Generator.StartAfter", "generator", "source.generator.start_after", "s", 0, practice, "so that no dip starts it"},
	{"Source.Generator.StartTakes", "generator", "source.generator.start_takes", "s", 0, published, "NFPA 110 types 10, 60, 120: longest seconds"},
	{"Source.Generator.Settles", "generator", "source.generator.settles", "s", 0, practice, ""},
	{"Source.Generator.WanderV", "generator", "source.generator.wander_v", "V", 0, practice, "5 % of nominal"},
	{"Source.Generator.WanderHz", "generator", "source.generator.wander_hz", "Hz", 0, practice, ""},
	{"Source.Generator.Period", "generator", "source.generator.wander_period", "s", 0, ours, ""},
	{"Source.Generator.DroopHz", "generator", "source.generator.droop_hz", "Hz", 0, practice, "2 to 5 % of nominal"},
	{"Source.Generator.StepHz", "generator", "source.generator.step_hz", "Hz", 0, memory, "ISO 8528-5 class G2: 10 % at most"},
	{"Source.Generator.StepV", "generator", "source.generator.step_v", "V", 0, memory, "ISO 8528-5 class G2: 20 % at most"},
	{"Source.Generator.Recovers", "generator", "source.generator.recovers", "s", 0, memory, "ISO 8528-5 class G2: 5 s at most, which is five times this"},
	{"Source.Generator.CoolsDown", "generator", "source.generator.cools_down", "s", 0, practice, "3 to 10 minutes"},
	{"Source.Generator.TripV", "generator", "source.generator.trip_v_pct", "%", 100, memory, "what ISO 8528-5 class G2 may fall to"},
	{"Source.Generator.TripHz", "generator", "source.generator.trip_hz_pct", "%", 100, memory, "likewise"},
	{"Source.Generator.TripAfter", "generator", "source.generator.trip_after", "s", 0, memory, "likewise its time to recover"},
}

var changeoverOrigins = []Origin{
	{"Source.Changeover.Gap", "changeover", "source.changeover.gap", "s", 0, practice, "0.1 to 1 s, open before closed"},
	{"Source.Changeover.Accept", "changeover", "source.changeover.accept", "s", 0, practice, "some 5 s stable"},
	{"Source.Changeover.Watch", "changeover", "source.changeover.watch", "s", 0, practice, "5 to 30 minutes"},
	{"Source.Changeover.LowV", "changeover", "source.changeover.low_pct", "%", 100, practice, "of nominal"},
	{"Source.Changeover.HighV", "changeover", "source.changeover.high_pct", "%", 100, practice, "of nominal"},
	{"Source.Changeover.LowHz", "changeover", "source.changeover.hz_pct", "% at least", 100, practice, "of nominal"},
	{"Source.Changeover.HighHz", "changeover", "source.changeover.hz_pct", "% at most", 100, practice, "of nominal"},
}

var hostOrigins = []Origin{
	{"Groups[].Inrush.Times", "hosts", "group.*.inrush.times", "", 0, practice, "0: none; else times the nominal current"},
	{"Groups[].Inrush.Lasts", "hosts", "group.*.inrush.lasts", "s", 0, practice, "some cycles to tenths of a second"},
	{"Groups[].OnDelay", "hosts", "group.*.on_delay", "s", 0, ours, "at once"},
	{"Groups[].OffDelay", "hosts", "group.*.off_delay", "s", 0, ours, "with the output"},
	{"Hosts[].DrawW", "hosts", "host.*.draw_w", "W", 0, ours, ""},
	{"Hosts[].IdleW", "hosts", "host.*.idle_w", "W", 0, practice, "a machine in standby"},
	{"Hosts[].PowerFactor", "hosts", "host.*.power_factor", "", 0, practice, "a supply with correction: 0.95 to 0.99"},
	{"Hosts[].HoldUp", "hosts", "host.*.hold_up", "s", 0, published, "ITI curve (2000): 0 % for 20 ms"},
	{"Hosts[].Stop", "hosts", "host.*.stop_takes", "s", 0, ours, ""},
	{"Hosts[].Wired.For", "hosts", "host.*.wired.for", "s", 0, ours, ""},
	{"Hosts[].Boot", "hosts", "host.*.boot_takes", "s", 0, ours, ""},
}
