package cli

import (
	"strconv"
	"strings"
)

// maxShards is more than any array has.
const maxShards = 100_000

// shard reads I/N, or auto.
func (a *app) shard(text string) (part, parts int, err error) {
	if text == "auto" {
		return a.arrayShard()
	}
	left, right, both := strings.Cut(text, "/")
	part, err1 := strconv.Atoi(left)
	parts, err2 := strconv.Atoi(right)
	if !both || err1 != nil || err2 != nil || part < 1 || parts < part || parts > maxShards {
		return 0, 0, usagef("--shard %s: expected I/N with I from 1 to N, such as 2/8, or auto", text)
	}
	return part, parts, nil
}

// arrayShard is the part of this task of a Slurm array or a Kubernetes indexed job.
func (a *app) arrayShard() (part, parts int, err error) {
	switch {
	case a.env("SLURM_ARRAY_TASK_ID") != "":
		return a.slurmShard()
	case a.env("JOB_COMPLETION_INDEX") != "":
		index, err := a.number("JOB_COMPLETION_INDEX", 0)
		if err != nil {
			return 0, 0, err
		}
		if parts, err = a.number("RIDETHROUGH_SHARDS", 1); err != nil {
			return 0, 0, err
		}
		if index >= parts {
			return 0, 0, usagef("--shard auto: JOB_COMPLETION_INDEX is %d, and RIDETHROUGH_SHARDS %d: set that to the job's completions", index, parts)
		}
		return index + 1, parts, nil
	}
	return 0, 0, usagef("--shard auto: this is no task of an array: neither SLURM_ARRAY_TASK_ID nor JOB_COMPLETION_INDEX is set; expected I/N")
}

// slurmShard counts the task in its array, which may begin anywhere and have a step.
func (a *app) slurmShard() (part, parts int, err error) {
	id, err := a.number("SLURM_ARRAY_TASK_ID", 0)
	if err != nil {
		return 0, 0, err
	}
	if parts, err = a.number("SLURM_ARRAY_TASK_COUNT", 1); err != nil {
		return 0, 0, err
	}
	first, err := a.number("SLURM_ARRAY_TASK_MIN", 0)
	if err != nil {
		return 0, 0, err
	}
	step := 1
	if a.env("SLURM_ARRAY_TASK_STEP") != "" {
		if step, err = a.number("SLURM_ARRAY_TASK_STEP", 1); err != nil {
			return 0, 0, err
		}
	}
	part = 1 + (id-first)/step
	if id < first || (id-first)%step != 0 || part > parts {
		return 0, 0, usagef("--shard auto: task %d of an array of %d from %d: expected one without gaps, such as --array=1-%d", id, parts, first, parts)
	}
	return part, parts, nil
}

// number is a variable of the environment.
func (a *app) number(name string, least int) (int, error) {
	text := a.env(name)
	n, err := strconv.Atoi(text)
	if err != nil || n < least || n > 1_000_000_000 || least == 1 && n > maxShards {
		return 0, usagef("--shard auto: %s is %q: expected a whole number from %d", name, text, least)
	}
	return n, nil
}
