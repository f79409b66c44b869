/* SPDX-License-Identifier: Apache-2.0 */
/*   asking -> fetching -> looking over -> taking -> taken
 *      |         |  ^         |             |
 *      |         |  '- (gone there: asked for anew, a few times)
 *      '---------'------------'-------------'-> none, refused, cut */
#include "daemon/sync/borrow.h"

#include <errno.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <string.h>
#include <sys/statvfs.h>
#include <unistd.h>

#include "adapters/store/snapshot.h"
#include "daemon/desk/sender.h"
#include "daemon/jobs/erase.h"
#include "daemon/sync/lend.h"
#include "daemon/sync/peers.h"
#include "daemon/sync/proof.h"

/* The making of one is waited for. */
#define ASK_MS (10 * MINUTE_MS)
#define FETCH_MS (2 * MINUTE_MS)
/* Who was told that there is none asks again no sooner. */
#define REST_MS (10 * MINUTE_MS)
/* Who has a quarter of it already takes in the rest. */
#define TIMES_MORE 4
/* It is packed; the store, its log and its indexes want several times its room. */
#define ROOM_TIMES 16
#define TRIES_MOST 3
/* What was fetched is kept so long while the line is cut: then it is not there any more either. */
#define KEPT_MS HOUR_MS

typedef enum { ASKING, FETCHING, LOOKING_OVER, TAKING } BorrowStage;

struct Borrow {
    Lane *lane;
    char *url, *pin;
    char *path;
    BorrowStage stage;
    BorrowEnd *end;
    void *context;

    char id[17]; /* "": none was promised yet */
    int64_t bytes, events;
    char digest[SHAPE_HEX];
    int file; /* -1: none */
    int64_t at;
    Hash hash;
    int tries;
    bool dropped;
    bool idle; /* the line was cut, and nobody has gone on yet */
    int64_t cut_ms;

    uv_work_t work;
    bool working;
    int64_t now_ms;
    SnapshotLook *look;
    const char *why;
};

/* --- the end --- */

static void forget_file(Borrow *borrow)
{
    if (borrow->file >= 0) close(borrow->file);
    borrow->file = -1;
    g_unlink(borrow->path);
    borrow->id[0] = '\0';
    borrow->dropped = false;
}

void borrow_free(Borrow *borrow)
{
    if (borrow == NULL) return;
    forget_file(borrow);
    snapshot_look_free(borrow->look);
    g_free(borrow->url);
    g_free(borrow->pin);
    g_free(borrow->path);
    g_free(borrow);
}

static void finish(Borrow *borrow, BorrowResult result, const char *why)
{
    Lane *lane = borrow->lane;
    BorrowEnd *end = borrow->end;
    void *context = borrow->context;
    g_autofree char *words = g_strdup(why);
    int64_t now_ms = clock_now(desk_clock(lane->sync->desk));

    borrow->idle = true;
    borrow->cut_ms = now_ms;
    if (result != BORROW_CUT) {
        lane->borrow_from_ms = result == BORROW_REFUSED ? CLOCK_NEVER : now_ms + REST_MS;
        lane->borrow = NULL;
        borrow_free(borrow);
    }
    end(result, words, context);
}

static void refuse(Borrow *borrow, const char *why)
{
    log_line(desk_log(borrow->lane->sync->desk), LOG_WARNINGS, "snapshot.refused", "from",
             borrow->lane->peer, "why", why, NULL);
    finish(borrow, BORROW_REFUSED, why);
}

/* --- asking --- */

typedef void Heard(Borrow *borrow, const WireResponse *response);

typedef struct {
    Borrow *borrow;
    Heard *heard; /* NULL: whatever is answered */
} Question;

static void answered(WireResponse *response, void *context)
{
    Question *question = context;

    if (question->heard != NULL) {
        question->borrow->lane->sync->busy--;
        if (response->too_large)
            refuse(question->borrow, "more comes than was asked for");
        else if (response->phase != PHASE_ANSWERED)
            finish(question->borrow, BORROW_CUT,
                   response->error != NULL ? response->error : "the line was cut");
        else if (response->status == 503)
            finish(question->borrow, BORROW_CUT, "it stops, or its store has no room");
        else
            question->heard(question->borrow, response);
    }
    wire_response_free(response);
    g_free(question);
}

static void ask(Borrow *borrow, json_t *document, int64_t timeout_ms, size_t answer_max,
                Heard *heard)
{
    Sync *sync = borrow->lane->sync;
    WireRequest *request = wire_request_new(EXCHANGE_HTTP, borrow->url);
    Question *question = g_new(Question, 1);
    char *text = json_dumps(document, JSON_COMPACT);

    *question = (Question){borrow, heard};
    request->body = g_bytes_new(text, strlen(text));
    free(text);
    json_decref(document);
    request->pin = g_strdup(borrow->pin);
    request->certificate = g_strdup(sync->own->certificate);
    request->key = g_strdup(sync->own->key);
    request->timeout_ms = timeout_ms;
    request->answer_max = answer_max;
    request->repeatable = true;
    wire_request_header(request, "Content-Type", "application/json");
    if (heard != NULL) sync->busy++;
    net_submit(sync->net, request, answered, question);
}

/* --- taking --- */

static void hear(const Event *event, void *context)
{
    Job *job = context;

    erase_heard(job, event);
}

static bool take(Job *job, void *context)
{
    Borrow *borrow = context;
    g_autoptr(Row) peer = tx_get_text(job->tx, TABLE_PEER, borrow->lane->peer);

    borrow->why = NULL;
    if (peer == NULL || !row_is_null(peer, PEER_CUT_AT))
        borrow->why = "the peer was unpaired";
    else if (job->sender)
        borrow->why = "this replica sends";
    else if (proof_is_open(job)) /* what looks over the first would speak for this one too */
        borrow->why = "another that was taken before was not looked over yet";
    else
        borrow->why = snapshot_take(job->tx, borrow->path, borrow->look, hear, job);
    /* nobody is asked anything by tables that were not looked over */
    if (borrow->why == NULL && !tx_is_lost(job->tx) && sender_is_here(job->tx))
        borrow->why = "it gives this replica the duty to send";
    if (borrow->why != NULL) return false;
    job->erased = tx_has_erased(job->tx);
    proof_note(job, peer_name(peer), borrow->events);
    return true;
}

static void taken(StoreStatus status, void *context)
{
    Borrow *borrow = context;
    Sync *sync = borrow->lane->sync;

    sync->busy--;
    if (status == STORE_OK) {
        g_autofree char *events = g_strdup_printf("%" G_GINT64_FORMAT, borrow->events);
        log_line(desk_log(sync->desk), LOG_PLAIN, "snapshot.taken", "from", borrow->lane->peer,
                 "events", events, NULL);
        if (!sync->stopping)
            ask(borrow, json_pack("{s:s, s:b}", "id", borrow->id, "end", 1), FETCH_MS,
                SNAPSHOT_QUESTION_MAX, NULL);
        if (!sync->stopping) proof_look(sync->proof);
        finish(borrow, BORROW_TAKEN, NULL);
    } else {
        refuse(borrow, borrow->why != NULL ? borrow->why : "there is no room for it in the store");
    }
}

static void look_over(uv_work_t *work)
{
    Borrow *borrow = work->data;

    borrow->look = snapshot_look_over(borrow->path, borrow->now_ms, &borrow->why);
}

static void looked_over(uv_work_t *work, int status)
{
    Borrow *borrow = work->data;
    Sync *sync = borrow->lane->sync;

    borrow->working = false;
    sync->busy--;
    if (sync->stopping || status != 0) {
        finish(borrow, BORROW_CUT, "osierd stops");
    } else if (borrow->dropped) {
        finish(borrow, BORROW_NONE, NULL);
    } else if (borrow->look == NULL) {
        refuse(borrow, borrow->why);
    } else {
        borrow->stage = TAKING;
        sync->busy++;
        desk_submit(sync->desk, take, taken, borrow);
    }
}

/* --- fetching --- */

static void fetch(Borrow *borrow);
static void begin(Borrow *borrow);

static void see_whole(Borrow *borrow)
{
    Sync *sync = borrow->lane->sync;
    uint8_t digest[HASH_BYTES];
    char hex[SHAPE_HEX];

    hash_end(&borrow->hash, digest);
    lend_hex(digest, hex);
    if (strcmp(hex, borrow->digest) != 0) {
        refuse(borrow, "what came is not what was promised");
        return;
    }
    borrow->stage = LOOKING_OVER;
    borrow->now_ms = clock_now(desk_clock(sync->desk));
    borrow->work.data = borrow;
    borrow->working = uv_queue_work(sync->loop, &borrow->work, look_over, looked_over) == 0;
    if (borrow->working)
        sync->busy++;
    else
        finish(borrow, BORROW_NONE, NULL);
}

static bool write_piece(Borrow *borrow, const char *bytes, gsize length)
{
    for (gsize done = 0; done < length;) {
        ssize_t written = write(borrow->file, bytes + done, length - done);
        if (written < 0 && errno == EINTR) continue;
        if (written <= 0) return false;
        done += (gsize)written;
    }
    sha256_update(&borrow->hash.state, length, (const uint8_t *)bytes);
    borrow->at += (int64_t)length;
    return true;
}

static void fetched(Borrow *borrow, const WireResponse *response)
{
    gsize length;
    const char *bytes = g_bytes_get_data(response->body, &length);

    if (borrow->dropped) {
        finish(borrow, BORROW_NONE, NULL);
    } else if (response->status == 410 && ++borrow->tries < TRIES_MOST) {
        forget_file(borrow);
        begin(borrow);
    } else if (response->status != 200) {
        finish(borrow, BORROW_NONE, NULL);
    } else if ((int64_t)length != MIN(SNAPSHOT_PIECE, borrow->bytes - borrow->at)) {
        refuse(borrow, "a piece of it is shorter or longer than it should be");
    } else if (!write_piece(borrow, bytes, length)) {
        refuse(borrow, "it cannot be written beside the store");
    } else if (borrow->at < borrow->bytes) {
        fetch(borrow);
    } else {
        see_whole(borrow);
    }
}

static void fetch(Borrow *borrow)
{
    borrow->stage = FETCHING;
    ask(borrow, json_pack("{s:s, s:I}", "id", borrow->id, "from", (json_int_t)borrow->at), FETCH_MS,
        SNAPSHOT_PIECE, fetched);
}

static bool has_room(const Borrow *borrow)
{
    struct statvfs device;

    return statvfs(borrow->lane->sync->dir, &device) != 0 ||
           borrow->bytes / (int64_t)device.f_frsize < (int64_t)device.f_bavail / ROOM_TIMES;
}

/* Where what is promised is what was fetched in part already, the rest is fetched. */
static const char *promise(Borrow *borrow, const json_t *document)
{
    const char *id = json_string_value(json_object_get(document, "id"));
    const char *digest = json_string_value(json_object_get(document, "digest"));
    int64_t bytes = json_integer_value(json_object_get(document, "bytes"));
    int64_t events = json_integer_value(json_object_get(document, "events"));

    if (id == NULL || strlen(id) != 16 || digest == NULL || strlen(digest) != SHAPE_HEX - 1 ||
        bytes < 1 || events < 1 || events > PARCEL_SEQ_MAX)
        return "what is promised cannot be read";
    if (borrow->file >= 0 && strcmp(id, borrow->id) == 0 && bytes == borrow->bytes &&
        strcmp(digest, borrow->digest) == 0)
        return NULL;
    forget_file(borrow);
    g_strlcpy(borrow->id, id, sizeof borrow->id);
    g_strlcpy(borrow->digest, digest, sizeof borrow->digest);
    borrow->bytes = bytes;
    borrow->events = events;
    borrow->at = 0;
    hash_begin(&borrow->hash);
    if (!has_room(borrow)) return "there is no room for it beside the store";
    borrow->file = open(borrow->path, O_CREAT | O_EXCL | O_WRONLY | O_CLOEXEC | O_NOFOLLOW, 0600);
    return borrow->file >= 0 ? NULL : "it cannot be written beside the store";
}

/* Who knows of no snapshots answers 404. */
static void promised(Borrow *borrow, const WireResponse *response)
{
    gsize length;
    const char *bytes = g_bytes_get_data(response->body, &length);

    if (response->status != 200) {
        finish(borrow, BORROW_NONE, NULL);
        return;
    }
    json_t *document = json_loadb(bytes, length, JSON_REJECT_DUPLICATES, NULL);
    const char *why = promise(borrow, document);
    json_decref(document);
    if (why != NULL)
        refuse(borrow, why);
    else if (borrow->at < borrow->bytes)
        fetch(borrow);
    else
        see_whole(borrow);
}

static void begin(Borrow *borrow)
{
    uint8_t shape[HASH_BYTES];
    char hex[SHAPE_HEX];

    borrow->stage = ASKING;
    snapshot_shape(shape);
    lend_hex(shape, hex);
    ask(borrow, json_pack("{s:s}", "shape", hex), ASK_MS, SNAPSHOT_QUESTION_MAX, promised);
}

/* --- */

/* Each visit brings some entries before it comes to this: what is begun is ended all the same. */
bool borrow_may(Job *job, const Lane *lane, const GArray *theirs)
{
    g_autoptr(GArray) own = tx_vector(job->tx), none = vector_new();
    int64_t lacks = vector_ahead(theirs, own);
    int64_t least = lane->borrow != NULL ? SNAPSHOT_LEAST / TIMES_MORE : SNAPSHOT_LEAST;

    return !job->sender && job->clinic->store_schema == NULL && !proof_is_open(job) &&
           job->now_ms >= lane->borrow_from_ms && lacks >= least &&
           (lane->borrow != NULL || lacks / TIMES_MORE >= vector_ahead(own, none));
}

void borrow_begin(Lane *lane, const char *url, const char *pin, BorrowEnd *end, void *context)
{
    if (lane->borrow == NULL) {
        lane->borrow = g_new0(Borrow, 1);
        *lane->borrow = (Borrow){.lane = lane, .file = -1};
        lane->borrow->path = g_strdup_printf("%s/" SNAPSHOT_PART "%s", lane->sync->dir, lane->peer);
    }
    Borrow *borrow = lane->borrow;
    g_free(borrow->url);
    g_free(borrow->pin);
    borrow->url = g_strdup(url);
    borrow->pin = g_strdup(pin);
    borrow->end = end;
    borrow->context = context;
    borrow->tries = 0;
    borrow->idle = false;
    begin(borrow);
}

void borrow_drop(Borrow *borrow)
{
    if (borrow->id[0] == '\0' || borrow->stage == TAKING) return;
    g_unlink(borrow->path);
    borrow->dropped = true;
}

void borrow_age(Lane *lane)
{
    int64_t now_ms = clock_now(desk_clock(lane->sync->desk));

    if (lane->borrow == NULL || !lane->borrow->idle || now_ms - lane->borrow->cut_ms < KEPT_MS)
        return;
    borrow_free(lane->borrow);
    lane->borrow = NULL;
}

bool borrow_works(const Borrow *borrow)
{
    return borrow->working;
}

json_t *borrow_json(const Borrow *borrow)
{
    static const char *const DOES[] = {[ASKING] = "asking",
                                       [FETCHING] = "fetching",
                                       [LOOKING_OVER] = "looking-over",
                                       [TAKING] = "taking"};

    return json_pack("{s:s, s:s, s:I, s:I}", "from", borrow->lane->peer, "does",
                     DOES[borrow->stage], "bytes", (json_int_t)borrow->at, "of",
                     (json_int_t)borrow->bytes);
}
