package main

import (
	"bytes"
	"fmt"
	"net"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// slurmConf is a cluster of this machine alone, which listens on loopback alone.
const slurmConf = `ClusterName=study
SlurmctldHost=%[1]s(127.0.0.1)
SlurmUser=%[2]s
SlurmdUser=%[2]s
AuthType=auth/munge
AuthInfo=socket=%[3]s/munge.socket
CredType=cred/munge
CommunicationParameters=NoCtldInAddrAny,NoInAddrAny
SlurmctldPort=%[4]d
SlurmdPort=%[5]d
StateSaveLocation=%[3]s/state
SlurmdSpoolDir=%[3]s/spool
SlurmctldPidFile=%[3]s/slurmctld.pid
SlurmdPidFile=%[3]s/slurmd.pid
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
JobAcctGatherType=jobacct_gather/none
MpiDefault=none
SelectType=select/cons_tres
SelectTypeParameters=CR_Core
ReturnToService=2
SchedulerParameters=batch_sched_delay=0,sched_interval=1
NodeName=%[1]s NodeAddr=127.0.0.1 CPUs=2 State=UNKNOWN
PartitionName=all Nodes=ALL Default=YES State=UP
`

// cluster is a real Slurm of one machine, which ends with the test.
type cluster struct {
	t   *testing.T
	dir string
}

func newCluster(t *testing.T) *cluster {
	t.Helper()
	t.Setenv("PATH", os.Getenv("PATH")+":/usr/sbin:/sbin")
	for _, tool := range []string{"munged", "slurmctld", "slurmd", "sbatch", "squeue", "sinfo"} {
		if _, err := exec.LookPath(tool); err != nil && os.Getenv("CI") == "true" {
			t.Fatal(err)
		} else if err != nil {
			t.Skip(err)
		}
	}
	dir, err := os.MkdirTemp("", "slurm") // the name of a socket must not be long
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(dir, 0o711); err != nil { // munged wants its socket to be reached by all
		t.Fatal(err)
	}
	c := &cluster{t, dir}
	t.Cleanup(func() { os.RemoveAll(dir) })
	c.configure()
	c.daemon("munged", "--foreground", "--key-file="+c.at("key"), "--socket="+c.at("munge.socket"), "--pid-file="+c.at("munged.pid"),
		"--log-file="+c.at("munged.log"), "--seed-file="+c.at("seed"))
	c.until("munged answers", func() bool { return exec.Command("munge", "--socket="+c.at("munge.socket"), "--no-input").Run() == nil })
	c.daemon("slurmctld", "-D", "-i")
	c.daemon("slurmd", "-D")
	c.until("the node is idle", func() bool {
		out, err := exec.Command("sinfo", "--noheader", "--format=%T").Output()
		return err == nil && strings.TrimSpace(string(out)) == "idle"
	})
	return c
}

func (c *cluster) at(name string) string { return filepath.Join(c.dir, name) }

func (c *cluster) configure() {
	c.t.Helper()
	host, err := os.Hostname()
	if err != nil {
		c.t.Fatal(err)
	}
	host, _, _ = strings.Cut(host, ".")
	who, err := user.Current()
	if err != nil {
		c.t.Fatal(err)
	}
	key := bytes.Repeat([]byte("only of this test, on loopback. "), 4)
	conf := fmt.Sprintf(slurmConf, host, who.Username, c.dir, freeTCP(c.t), freeTCP(c.t))
	for name, text := range map[string][]byte{"key": key, "slurm.conf": []byte(conf), "cgroup.conf": []byte("CgroupAutomount=no\n")} {
		if err := os.WriteFile(c.at(name), text, 0o600); err != nil {
			c.t.Fatal(err)
		}
	}
	for _, name := range []string{"state", "spool"} {
		if err := os.Mkdir(c.at(name), 0o700); err != nil {
			c.t.Fatal(err)
		}
	}
	c.t.Setenv("SLURM_CONF", c.at("slurm.conf"))
}

func freeTCP(t *testing.T) int {
	t.Helper()
	l, err := net.Listen("tcp4", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().(*net.TCPAddr).Port
}

// daemon starts a program, whose words go to NAME.said, and ends it with the test.
func (c *cluster) daemon(name string, args ...string) {
	c.t.Helper()
	said, err := os.Create(c.at(name + ".said"))
	if err != nil {
		c.t.Fatal(err)
	}
	defer said.Close()
	cmd := exec.Command(name, args...)
	cmd.Dir, cmd.Stdout, cmd.Stderr = c.dir, said, said
	if err := cmd.Start(); err != nil {
		c.t.Fatal(err)
	}
	c.t.Cleanup(func() {
		_ = cmd.Process.Signal(unix.SIGTERM)
		timer := time.AfterFunc(20*time.Second, func() { _ = cmd.Process.Kill() })
		defer timer.Stop()
		_ = cmd.Wait()
	})
}

// until waits for what has no better signal.
func (c *cluster) until(what string, holds func() bool) {
	c.t.Helper()
	for deadline := time.Now().Add(3 * time.Minute); time.Now().Before(deadline); time.Sleep(50 * time.Millisecond) {
		if holds() {
			return
		}
	}
	for _, name := range []string{"munged", "slurmctld", "slurmd"} {
		text, _ := os.ReadFile(c.at(name + ".said"))
		c.t.Logf("%s: %s", name, text)
	}
	c.t.Fatalf("it never came to it that %s", what)
}

// submit submits a job and gives its number.
func (c *cluster) submit(dir string, args ...string) string {
	c.t.Helper()
	cmd := exec.Command("sbatch", append([]string{"--parsable"}, args...)...)
	cmd.Dir = dir
	out, err := cmd.CombinedOutput()
	if err != nil {
		c.t.Fatalf("%v: %v\n%s", args, err, out)
	}
	return strings.TrimSpace(string(out))
}

// TestSlurmArray plays a study as a real job array with the job files of docs/study, and
// merges it with a job that depends on it: byte for byte the study of one machine.
func TestSlurmArray(t *testing.T) {
	c := newCluster(t)
	work := t.TempDir()
	text, err := os.ReadFile(filepath.Join("..", "..", "scenarios", "study-aged-branch.toml"))
	if err == nil {
		err = os.WriteFile(filepath.Join(work, "site.toml"), text, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
	jobs, err := filepath.Abs(filepath.Join("..", "..", "docs", "study"))
	if err != nil {
		t.Fatal(err)
	}
	array := c.submit(work, "--array=3-9:2", filepath.Join(jobs, "study.sbatch"), "site.toml", "400")
	merge := c.submit(work, "--dependency=afterok:"+array, "--kill-on-invalid-dep=yes", filepath.Join(jobs, "merge.sbatch"), "site", "--require", "0.9")
	c.until("both jobs are done", func() bool {
		out, err := exec.Command("squeue", "--noheader").Output()
		return err == nil && len(bytes.TrimSpace(out)) == 0
	})
	cmd := exec.Command("ridethrough", "study", "site.toml", "--runs", "400", "--require", "0.9", "--json", "--csv", "whole.csv")
	cmd.Dir = work
	want, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	shards, _ := filepath.Glob(filepath.Join(work, "site.*-of-4.runs"))
	if len(shards) != 4 {
		t.Errorf("%d shards: %q", len(shards), shards)
	}
	same(t, filepath.Join(work, "site.json"), want)
	csv, err := os.ReadFile(filepath.Join(work, "whole.csv"))
	if err != nil {
		t.Fatal(err)
	}
	same(t, filepath.Join(work, "site.csv"), csv)
	if t.Failed() {
		logs, _ := filepath.Glob(filepath.Join(work, "*.log"))
		for _, name := range logs {
			said, _ := os.ReadFile(name)
			t.Logf("%s: %s", filepath.Base(name), said)
		}
		t.Logf("array %s, merge %s", array, merge)
	}
}

func same(t *testing.T, name string, want []byte) {
	t.Helper()
	got, err := os.ReadFile(name)
	if err != nil || !bytes.Equal(got, want) {
		t.Errorf("%s: %d bytes, not the %d of the whole study; %v", filepath.Base(name), len(got), len(want), err)
	}
}

// The job files for Kubernetes tell every pod of how many it is one, and merge as many.
func TestKubernetesJobsAgree(t *testing.T) {
	study, err := os.ReadFile(filepath.Join("..", "..", "docs", "study", "kubernetes.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	merge, err := os.ReadFile(filepath.Join("..", "..", "docs", "study", "kubernetes-merge.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	completions := regexp.MustCompile(`(?m)^  completions: (\d+)$`).FindSubmatch(study)
	told := regexp.MustCompile(`- name: RIDETHROUGH_SHARDS\n\s+value: "(\d+)"`).FindSubmatch(study)
	if completions == nil || told == nil || !bytes.Equal(completions[1], told[1]) {
		t.Fatalf("completions %q, told %q", completions, told)
	}
	merged := regexp.MustCompile(`- site\.(\d+)-of-(\d+)\.runs\n`).FindAllSubmatch(merge, -1)
	if fmt.Sprint(len(merged)) != string(told[1]) {
		t.Errorf("%d shards are merged, of %s", len(merged), told[1])
	}
	for i, m := range merged {
		if string(m[1]) != fmt.Sprint(i+1) || !bytes.Equal(m[2], told[1]) {
			t.Errorf("shard %s of %s stands at place %d", m[1], m[2], i+1)
		}
	}
	args := regexp.MustCompile(`args: \["study", "/site/site.toml", (.*)\]`).FindSubmatch(study)
	if args == nil {
		t.Fatal("the pod plays no study")
	}
	// The same command line with fewer runs, as each pod would see it.
	line := strings.Fields(strings.NewReplacer(`"`, "", ",", "", "100000", "16").Replace(string(args[1])))
	dir := t.TempDir()
	scenario, err := filepath.Abs(filepath.Join("..", "..", "scenarios", "study-aged-branch.toml"))
	if err != nil {
		t.Fatal(err)
	}
	all := []string{"study", "merge"}
	for i := range merged {
		cmd := exec.Command("ridethrough", append([]string{"study", scenario}, line...)...)
		cmd.Dir = dir
		cmd.Env = append(os.Environ(), fmt.Sprint("JOB_COMPLETION_INDEX=", i), "RIDETHROUGH_SHARDS="+string(told[1]))
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
		all = append(all, fmt.Sprintf("study-aged-branch.%d-of-%s.runs", i+1, told[1]))
	}
	cmd := exec.Command("ridethrough", all...)
	cmd.Dir = dir
	if out, err := cmd.CombinedOutput(); err != nil || !strings.Contains(string(out), "16 of 16 runs met everything") {
		t.Errorf("%v\n%s", err, out)
	}
}
