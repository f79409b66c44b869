#!/bin/sh
# An idle osierd does not wake: with only the spool gateway, and then with a webhook's listener, every system call of a
# minute is counted.
#
#   tests/real/idle.sh [SECONDS [FOLDER OF THE PROGRAMS]]
seconds=${1:-60}
programs=${2:-build}
command -v strace >/dev/null || { echo "idle: left out: strace is not installed"; exit 0; }
folder=$(mktemp -d)
pid=
trap '[ -n "$pid" ] && kill "$pid"; rm -rf "$folder"' EXIT
failed=0

watch() {
    "$programs/osierd" --clinic "$folder/clinic" >"$folder/said" 2>&1 &
    pid=$!
    for _ in $(seq 100); do
        grep -q 'osierd: ready' "$folder/said" && break
        sleep 0.1
    done
    grep -q 'osierd: ready' "$folder/said" || { cat "$folder/said"; exit 1; }
    sleep 2 # what a start brings with it is over
    timeout -s INT "$seconds" strace -f -qq -o "$folder/trace" -p "$pid" 2>"$folder/strace"
    if [ ! -s "$folder/trace" ]; then
        # Where nobody may look inside, the turns that its threads were given tell as much.
        before=$(awk '/ctxt_switches/ { n += $2 } END { print n }' /proc/"$pid"/task/*/status)
        sleep "$seconds"
        after=$(awk '/ctxt_switches/ { n += $2 } END { print n }' /proc/"$pid"/task/*/status)
        calls=$((after - before))
    else
        # What it slept in all the time has no result; whatever ended has one.
        calls=$(grep -cE ' = -?[0-9]' "$folder/trace")
    fi
    kill "$pid"
    wait "$pid"
    pid=
    echo "idle: $1: $calls system calls in $seconds s"
    [ "$calls" -eq 0 ] || { cat "$folder/trace"; failed=1; }
}

"$programs/osier" init "$folder/clinic" >/dev/null
watch "the spool gateway alone"
port=$((20000 + $$ % 20000))
sed -i "s/^# hooks: .*/hooks: {listen: \"127.0.0.1:$port\"}/" "$folder/clinic/clinic.yaml"
cat >>"$folder/clinic/clinic.yaml" <<'YAML'
  texts:
    kind: http-sms
    send: {url: "http://127.0.0.1:9/send", form: {to: "{to}", text: "{text}"}}
    webhook: {path: /in, from: /from, text: /text, signature: none}
YAML
watch "a gateway with a webhook"
exit $failed
