package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"
)

// Keys that the job files may use, as the types of k8s.io/api v0.37 (batch/v1, core/v1)
// have them: the files were read strictly with those, and the workflow with actionlint
// 1.7, when this was written. A slip of the pen is a key that is not here.
var jobKeys = map[string]string{
	"kubernetes.yaml": `apiVersion kind metadata metadata.name spec spec.accessModes spec.resources spec.resources.requests spec.resources.requests.storage
		spec.completionMode spec.completions spec.parallelism spec.backoffLimitPerIndex spec.backoffLimit spec.template spec.template.spec`,
	"pod": `restartPolicy automountServiceAccountToken
		securityContext securityContext.runAsNonRoot securityContext.runAsUser securityContext.fsGroup securityContext.seccompProfile securityContext.seccompProfile.type
		containers containers.name containers.image containers.workingDir containers.command containers.args containers.env containers.env.name containers.env.value
		containers.resources containers.resources.requests containers.resources.requests.cpu containers.resources.requests.memory containers.resources.limits containers.resources.limits.memory
		containers.securityContext containers.securityContext.allowPrivilegeEscalation containers.securityContext.readOnlyRootFilesystem containers.securityContext.capabilities containers.securityContext.capabilities.drop
		containers.volumeMounts containers.volumeMounts.name containers.volumeMounts.mountPath containers.volumeMounts.readOnly
		volumes volumes.name volumes.configMap volumes.configMap.name volumes.persistentVolumeClaim volumes.persistentVolumeClaim.claimName`,
	"workflow.yaml": `name on permissions permissions.contents jobs jobs.guard jobs.guard.runs-on jobs.guard.timeout-minutes
		jobs.guard.steps jobs.guard.steps.name jobs.guard.steps.uses jobs.guard.steps.run jobs.guard.steps.if jobs.guard.steps.with
		jobs.guard.steps.with.repository jobs.guard.steps.with.path jobs.guard.steps.with.go-version-file jobs.guard.steps.with.cache-dependency-path jobs.guard.steps.with.name`,
}

func knownKeys(name string) map[string]bool {
	known := map[string]bool{}
	for _, key := range strings.Fields(jobKeys[name]) {
		known[key] = true
	}
	if name == "kubernetes.yaml" {
		for key := range knownKeys("pod") {
			known["spec.template.spec."+key] = true
		}
	}
	return known
}

// documents are those of a YAML file; a key that stands twice is an error.
func documents(t *testing.T, path string) (list []any) {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for d := yaml.NewDecoder(f); ; {
		var v any
		if err := d.Decode(&v); errors.Is(err, io.EOF) {
			return list
		} else if err != nil {
			t.Fatalf("%s: %v", path, err)
		}
		list = append(list, v)
	}
}

// eachKey tells of every key in v, with those that it lies in before it.
func eachKey(v any, under string, tell func(path string)) {
	switch x := v.(type) {
	case map[string]any:
		for key, value := range x {
			path := strings.TrimPrefix(under+"."+key, ".")
			tell(path)
			eachKey(value, path, tell)
		}
	case []any:
		for _, value := range x {
			eachKey(value, under, tell)
		}
	}
}

// TestJobFiles: every YAML file of the docs can be read, and has no key that its system
// does not know.
func TestJobFiles(t *testing.T) {
	var files []string
	for _, folder := range []string{"ci", "study"} {
		list, err := filepath.Glob(filepath.Join(repository, "docs", folder, "*.y*ml"))
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, list...)
	}
	if len(files) != 3 {
		t.Errorf("%d files, and keys are known of 3: %q", len(files), files)
	}
	for _, path := range files {
		known := knownKeys("kubernetes.yaml")
		if filepath.Base(path) == "workflow.yaml" {
			known = knownKeys("workflow.yaml")
		}
		list := documents(t, path)
		for _, d := range list {
			eachKey(d, "", func(key string) {
				if !known[key] {
					t.Errorf("%s: there is no key %s", path, key)
				}
			})
		}
		if len(list) == 0 {
			t.Errorf("%s is empty", path)
		}
	}
}

// TestJobVolumes: what a pod mounts is there, and both jobs share one claim.
func TestJobVolumes(t *testing.T) {
	type pod struct {
		Containers []struct {
			VolumeMounts []struct{ Name string } `yaml:"volumeMounts"`
		}
		Volumes []struct {
			Name  string
			Claim struct {
				Name string `yaml:"claimName"`
			} `yaml:"persistentVolumeClaim"`
		}
	}
	var claims []string
	for _, name := range []string{"kubernetes.yaml", "kubernetes-merge.yaml"} {
		for _, d := range documents(t, filepath.Join(repository, "docs", "study", name)) {
			text, err := yaml.Marshal(d)
			if err != nil {
				t.Fatal(err)
			}
			var job struct {
				Kind     string
				Metadata struct{ Name string }
				Spec     struct{ Template struct{ Spec pod } }
			}
			if err := yaml.Unmarshal(text, &job); err != nil {
				t.Fatal(err)
			}
			if job.Kind == "PersistentVolumeClaim" {
				claims = append(claims, job.Metadata.Name)
				continue
			}
			p, there := job.Spec.Template.Spec, []string{}
			for _, v := range p.Volumes {
				if there = append(there, v.Name); v.Claim.Name != "" {
					claims = append(claims, v.Claim.Name)
				}
			}
			for _, m := range p.Containers[0].VolumeMounts {
				if !slices.Contains(there, m.Name) {
					t.Errorf("%s mounts %s, which is no volume", name, m.Name)
				}
			}
		}
	}
	if len(claims) != 3 || len(slices.Compact(claims)) != 1 {
		t.Errorf("one claim, and two jobs that use it: %s", fmt.Sprint(claims))
	}
}
