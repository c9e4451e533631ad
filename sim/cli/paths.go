package cli

import (
	"path/filepath"
)

// namedFile is a file that the command line names; flag is empty for an
// argument.
type namedFile struct{ flag, path string }

func (f namedFile) String() string {
	if f.flag == "" {
		return "the argument"
	}
	return "--" + f.flag
}

// distinct refuses two names of the same file: one would overwrite the other.
func distinct(files ...namedFile) error {
	seen := map[string]namedFile{}
	for _, f := range files {
		if f.path == "" {
			continue
		}
		at := resolve(f.path)
		if other, twice := seen[at]; twice {
			return usagef("%s and %s name the same file %s", other, f, f.path)
		}
		seen[at] = f
	}
	return nil
}

// resolve is path from the root of the file system, past symbolic links as far
// as it exists. What cannot be resolved is compared as it is written.
func resolve(path string) string {
	if whole, err := filepath.Abs(path); err == nil {
		path = whole
	}
	if target, err := filepath.EvalSymlinks(path); err == nil {
		return target
	}
	if folder, err := filepath.EvalSymlinks(filepath.Dir(path)); err == nil {
		return filepath.Join(folder, filepath.Base(path))
	}
	return path
}
