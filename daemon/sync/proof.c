/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/sync/proof.h"

#include <glib/gstdio.h>
#include <signal.h>
#include <string.h>
#include <sys/prctl.h>

#include "adapters/store/snapshot.h"
#include "core/calendar/date.h"
#include "daemon/jobs/alert.h"
#include "daemon/sync/sync_inside.h"

#define META "snapshot"
enum { SOUND, TABLES_DIFFER, UNSOUND, NOT_LOOKED_AT };

struct Proof {
    uv_loop_t *loop;
    Desk *desk;
    char *file;
    int *busy;
    bool looking; /* from the question whether anything is to be done to the end */
    bool open;    /* what the question found */
    bool again;   /* what was found damaged before this start is asked of once more */
    bool runs;
    bool stopping;
    uv_process_t process;
    bool handle_open;
    int result;
};

/* --- what is written down --- */

static json_t *noted(Job *job)
{
    g_autofree char *text = tx_meta(job->tx, META);

    return text != NULL ? json_loads(text, 0, NULL) : NULL;
}

static const char *state_of(const json_t *note)
{
    return json_string_value(json_object_get(note, "state"));
}

static void write_down(Job *job, json_t *note)
{
    char *text = json_dumps(note, JSON_COMPACT | JSON_SORT_KEYS);

    tx_set_meta(job->tx, META, text);
    free(text);
    json_decref(note);
}

void proof_note(Job *job, const char *from, int64_t events)
{
    write_down(job, json_pack("{s:s, s:I, s:I, s:s}", "from", from, "at", (json_int_t)job->now_ms,
                              "events", (json_int_t)events, "state", "unproved"));
}

bool proof_is_open(Job *job)
{
    json_t *note = noted(job);
    const char *state = state_of(note);
    bool open = state != NULL && (strcmp(state, "unproved") == 0 || strcmp(state, "unsound") == 0);

    json_decref(note);
    return open;
}

json_t *proof_json(Job *job)
{
    json_t *note = noted(job);

    if (!json_is_object(note)) {
        json_decref(note);
        return json_null();
    }
    g_autofree char *at = instant_format(json_integer_value(json_object_get(note, "at")));
    json_object_set_new(note, "at", json_string(at));
    return note;
}

/* --- the program --- */

/* Where they could not be folded, as for want of room, nothing is known. */
static int meaning_of(const char *finding)
{
    if (g_str_has_prefix(finding, "table ")) return TABLES_DIFFER;
    return g_str_has_prefix(finding, "the events cannot be folded") ? NOT_LOOKED_AT : UNSOUND;
}

int proof_main(const char *file)
{
    g_autoptr(GPtrArray) findings = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *why = NULL;
    int64_t events = 0;
    int code = SOUND;

    prctl(PR_SET_PDEATHSIG, SIGKILL); /* nobody waits for what it finds but who started it */
    if (store_sqlite_check(file, false, findings, &events, &why) != OPEN_OK) {
        g_printerr("%s\n", why);
        return NOT_LOOKED_AT;
    }
    for (guint i = 0; i < findings->len; i++)
        code = MAX(code, meaning_of(findings->pdata[i]));
    return code;
}

/* --- on the loop --- */

static void end(Proof *proof)
{
    proof_drop(proof);
    proof->looking = false;
    (*proof->busy)--;
}

static void tell(Job *job, const char *words)
{
    json_t *reasons = json_array();

    json_array_append_new(reasons, reason_words("snapshot", "does not hold", words));
    g_free(alert_open(
        job, NULL,
        &(Opening){
            .kind = "snapshot", .class = ALERT_TODAY, .cause = "snapshot", .reasons = reasons}));
    json_decref(reasons);
}

static bool settle(Job *job, void *context)
{
    static const char *const STATES[] = {
        [SOUND] = "proved", [TABLES_DIFFER] = "made-anew", [UNSOUND] = "unsound"};
    const Proof *proof = context;
    json_t *note = noted(job);

    if (!json_is_object(note)) {
        json_decref(note);
        return false;
    }
    json_object_set_new(note, "state", json_string(STATES[proof->result]));
    write_down(job, note);
    if (proof->result == TABLES_DIFFER) {
        snapshot_fold_anew(job->tx);
        tell(job, "the tables that a peer gave this replica were not what its entries give; they "
                  "were made anew here. See that both have the same version of osier, and that "
                  "nobody else has the peer's key");
    }
    if (proof->result == UNSOUND)
        tell(job, "the store that this replica took from a peer is damaged: stop osierd and run "
                  "osier check");
    return true;
}

static void settled(StoreStatus status, void *context)
{
    static const char *const WORDS[] = {
        [SOUND] = "sound", [TABLES_DIFFER] = "tables made anew", [UNSOUND] = "unsound"};
    Proof *proof = context;

    if (status == STORE_OK)
        log_line(desk_log(proof->desk), proof->result == SOUND ? LOG_PLAIN : LOG_ERRORS,
                 "snapshot.looked_over", "found", WORDS[proof->result], NULL);
    end(proof);
}

static void judge(Proof *proof, int result)
{
    proof->result = result;
    if (proof->stopping || result == NOT_LOOKED_AT)
        end(proof); /* at the next visit of all, or start, again */
    else
        desk_submit(proof->desk, settle, settled, proof);
}

static void closed(uv_handle_t *handle)
{
    Proof *proof = handle->data;

    proof->handle_open = false;
    judge(proof, proof->result);
}

static void on_exit_of(uv_process_t *process, int64_t code, int signal_number)
{
    Proof *proof = process->data;

    proof->runs = false;
    proof->result =
        signal_number != 0 || code > UNSOUND || code < SOUND ? NOT_LOOKED_AT : (int)code;
    uv_close((uv_handle_t *)process, closed);
}

static void copied(const char *problem, void *context)
{
    Proof *proof = context;
    const char *program =
        "/proc/self/exe"; /* this very one, also where an upgrade has put another in its place */
    const char *args[] = {"osierd", "--look-over", proof->file, NULL};
    uv_stdio_container_t streams[3] = {
        {.flags = UV_IGNORE}, {.flags = UV_IGNORE}, {.flags = UV_INHERIT_FD, .data.fd = 2}};
    uv_process_options_t options = {.exit_cb = on_exit_of,
                                    .file = program,
                                    .args = (char **)args,
                                    .stdio = streams,
                                    .stdio_count = 3};

    if (problem != NULL || proof->stopping) {
        judge(proof, NOT_LOOKED_AT);
        return;
    }
    proof->process.data = proof;
    proof->runs = uv_spawn(proof->loop, &proof->process, &options) == 0;
    proof->handle_open = true;
    if (proof->runs) return;
    proof->result = NOT_LOOKED_AT;
    uv_close((uv_handle_t *)&proof->process, closed);
}

static bool look(Job *job, void *context)
{
    Proof *proof = context;
    json_t *note = noted(job);
    const char *state = state_of(note);

    proof->open =
        g_strcmp0(state, "unproved") == 0 || (proof->again && g_strcmp0(state, "unsound") == 0);
    json_decref(note);
    return true;
}

static void looked(StoreStatus status, void *context)
{
    Proof *proof = context;
    Store *store = desk_store(proof->desk);

    if (status != STORE_OK || !proof->open || proof->stopping) {
        end(proof);
        return;
    }
    proof->again = false;
    proof_drop(proof);
    store->copy(store, proof->file, copied, proof);
}

void proof_look(Proof *proof)
{
    if (proof->looking || proof->stopping) return;
    proof->looking = true;
    (*proof->busy)++;
    desk_read(proof->desk, look, looked, proof);
}

void proof_drop(Proof *proof)
{
    static const char *const ENDS[] = {"", "-wal", "-shm", "-journal"};

    for (size_t i = 0; i < G_N_ELEMENTS(ENDS); i++) {
        g_autofree char *path = g_strconcat(proof->file, ENDS[i], NULL);
        g_unlink(path);
    }
}

void proof_stop(Proof *proof)
{
    proof->stopping = true;
    if (proof->runs) uv_process_kill(&proof->process, SIGKILL);
}

bool proof_is_over(const Proof *proof)
{
    return !proof->handle_open;
}

Proof *proof_new(uv_loop_t *loop, Desk *desk, const char *folder, int *busy)
{
    Proof *proof = g_new0(Proof, 1);

    *proof = (Proof){.loop = loop,
                     .desk = desk,
                     .file = g_build_filename(folder, SNAPSHOT_PART "proof", NULL),
                     .busy = busy,
                     .again = true};
    return proof;
}

void proof_free(Proof *proof)
{
    proof_drop(proof);
    g_free(proof->file);
    g_free(proof);
}
