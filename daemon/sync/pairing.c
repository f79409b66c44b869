/* SPDX-License-Identifier: Apache-2.0 */
/* Two replicas get to know each other. One shows a code; the other looks at the key of whoever listens at the address, goes on only
 * where it is the key that the code speaks of, and shows the code's token over a connection to that key alone. Each then knows the
 * other by its key. A token is good once, for ten minutes and five tries. */
#include <sodium.h>
#include <string.h>

#include "daemon/cli/cli.h"
#include "daemon/control/answer.h"
#include "daemon/sync/caller.h"
#include "daemon/sync/introduction.h"
#include "daemon/sync/peers.h"
#include "daemon/sync/sync_inside.h"

#define OFFER_MS (10 * MINUTE_MS)
#define TRIES_MOST 5
#define LOOK_MS (15 * SECOND_MS)

/* --- the one that shows the code ------------------------------------------------------------------ */

void sync_offer(Sync *sync, ServeRequest *request)
{
    g_autofree char *why = NULL;
    const Own *own = sync_own(sync, &why);
    uint8_t fingerprint[FINGERPRINT_BYTES];
    PairingCode parts;
    uint64_t token;

    if (sync->listens == NULL) {
        answer_fault(request, 409, EXIT_SETTINGS, "sync", "listen",
                     "is not set: the replica that shows the code must be reachable, by sync: "
                     "{listen: \"0.0.0.0:8752\"} in clinic.yaml");
        return;
    }
    if (own == NULL || !identity_fingerprint(own->certificate, fingerprint)) {
        answer_fault(request, 500, EXIT_IO, "sync", "",
                     why != NULL ? why : "the key cannot be read");
        return;
    }
    randombytes_buf(&token, sizeof token);
    g_autofree char *code = code_make(fingerprint, token);
    code_read(code, &parts);
    sync->offer =
        (Offer){.until_ms = clock_now(desk_clock(sync->desk)) + OFFER_MS, .tries = TRIES_MOST};
    g_strlcpy(sync->offer.token, parts.token, sizeof sync->offer.token);
    g_autofree char *until = instant_format(sync->offer.until_ms);
    json_t *document =
        json_pack("{s:s, s:s, s:s}", "code", code, "until", until, "listens", sync->listens);
    answer_document(request, 200, document);
    json_decref(document);
}

/* Is it the token that is open? Each call with another costs a try. */
static bool use_token(Sync *sync, const char *token)
{
    Offer *offer = &sync->offer;
    char given[TOKEN_LETTERS + 1] = "";

    if (offer->token[0] == '\0' || clock_now(desk_clock(sync->desk)) > offer->until_ms ||
        offer->tries-- <= 0)
        return false;
    if (token != NULL) g_strlcpy(given, token, sizeof given);
    if (token == NULL || strlen(token) != TOKEN_LETTERS ||
        sodium_memcmp(given, offer->token, sizeof given) != 0)
        return false;
    offer->token[0] = '\0';
    return true;
}

typedef struct {
    Sync *sync;
    ServeRequest *request;
    json_t *other;
    char *pin;
    char *address; /* NULL: it calls us */
    PairingCode code;
    json_t *answer;
    const char *fault;
    int exit_code;
} Meeting;

static void meeting_free(Meeting *meeting)
{
    json_decref(meeting->other);
    json_decref(meeting->answer);
    g_free(meeting->pin);
    g_free(meeting->address);
    g_free(meeting);
}

static bool welcome(Job *job, void *context)
{
    Meeting *meeting = context;

    meeting->fault = introduction_fault(meeting->other, meeting->pin);
    if (meeting->fault == NULL && !introduction_same_clinic(job, meeting->other))
        meeting->fault = "it is a replica of another clinic";
    if (meeting->fault == NULL &&
        strcmp(introduction_text(meeting->other, "replica"), tx_replica(job->tx)) == 0)
        meeting->fault =
            "it is a copy of this store; make it a replica of its own with osier backup "
            "and osier restore";
    if (meeting->fault != NULL) {
        meeting->answer = json_pack("{s:s}", "fault", meeting->fault);
        return false;
    }
    introduction_keep_peer(job, meeting->other, meeting->pin, NULL);
    introduction_settle_duty(job, introduction_keeps_duty(job, meeting->other));
    meeting->answer = introduction_own(job, meeting->sync->own);
    return true;
}

static void welcomed(StoreStatus status, void *context)
{
    Meeting *meeting = context;

    meeting->sync->busy--;
    if (meeting->answer == NULL || (status != STORE_OK && meeting->fault == NULL))
        caller_turn_away(meeting->request, 503);
    else
        answer_document(meeting->request, meeting->fault == NULL ? 200 : 409, meeting->answer);
    if (status == STORE_OK) sync_know(meeting->sync, meeting->pin);
    meeting_free(meeting);
}

void pairing_answer(Sync *sync, ServeRequest *request)
{
    json_t *other = caller_object(request, INTRODUCTION_MAX);

    if (serve_pin(request) == NULL || other == NULL ||
        !use_token(sync, introduction_text(other, "token"))) {
        json_decref(other);
        caller_turn_away(request, 404);
        return;
    }
    Meeting *meeting = g_new0(Meeting, 1);
    *meeting = (Meeting){
        .sync = sync, .request = request, .other = other, .pin = g_strdup(serve_pin(request))};
    sync->busy++;
    desk_submit(sync->desk, welcome, welcomed, meeting);
}

/* --- the one that takes it -------------------------------------------------------------------------- */

static void give_up(Meeting *meeting, int exit_code, const char *why)
{
    answer_fault(meeting->request, answer_status(exit_code), exit_code, "pair", meeting->address,
                 why);
    meeting_free(meeting);
}

static bool join_job(Job *job, void *context)
{
    Meeting *meeting = context;

    meeting->fault = introduction_fault(meeting->other, meeting->pin);
    if (meeting->fault == NULL &&
        strcmp(introduction_text(meeting->other, "replica"), tx_replica(job->tx)) == 0)
        meeting->fault = "it says that it is this replica";
    if (meeting->fault != NULL) return false;
    introduction_keep_peer(job, meeting->other, meeting->pin, meeting->address);
    introduction_settle_duty(job, !json_is_true(json_object_get(meeting->other, "sends")));
    meeting->answer =
        json_pack("{s:s, s:s, s:s}", "replica", introduction_text(meeting->other, "replica"),
                  "name", introduction_text(meeting->other, "name"), "address", meeting->address);
    return true;
}

static void joined(StoreStatus status, void *context)
{
    Meeting *meeting = context;
    Sync *sync = meeting->sync;

    sync->busy--;
    if (status != STORE_OK) {
        give_up(meeting, EXIT_IO,
                meeting->fault != NULL ? meeting->fault : "nothing could be kept");
        return;
    }
    answer_document(meeting->request, 200, meeting->answer);
    sync_know(sync, meeting->pin);
    meeting_free(meeting);
    timer_set(sync->every, clock_now(desk_clock(sync->desk)));
}

static void introduced(WireResponse *response, void *context)
{
    Meeting *meeting = context;
    gsize length;
    const char *bytes = g_bytes_get_data(response->body, &length);
    json_t *other = length > 0 ? json_loadb(bytes, length, JSON_REJECT_DUPLICATES, NULL) : NULL;
    const char *fault = introduction_text(other, "fault");

    meeting->sync->busy--;
    if (response->phase != PHASE_ANSWERED) {
        give_up(meeting, EXIT_LATER, response->error);
    } else if (response->status == 409 && fault != NULL) {
        g_autofree char *why = g_strdup_printf("refused there: %s", fault);
        give_up(meeting, EXIT_NOT_ALLOWED, why);
    } else if (response->status != 200 || !json_is_object(other)) {
        give_up(meeting, EXIT_NOT_ALLOWED,
                "the code is not open there: it was used, is over ten minutes old, or is another; "
                "show a new one with osier sync pair");
    } else {
        meeting->other = json_incref(other);
        meeting->sync->busy++;
        desk_submit(meeting->sync->desk, join_job, joined, meeting);
    }
    json_decref(other);
    wire_response_free(response);
}

static bool introduce_job(Job *job, void *context)
{
    Meeting *meeting = context;

    sync_say_name(job);
    meeting->answer = introduction_own(job, meeting->sync->own);
    json_object_set_new(meeting->answer, "token", json_string(meeting->code.token));
    return true;
}

static void introduce(StoreStatus status, void *context)
{
    Meeting *meeting = context;
    Sync *sync = meeting->sync;

    sync->busy--;
    if (status != STORE_OK || sync->net == NULL) {
        give_up(meeting, EXIT_LATER, "osierd stops, or the store has no room");
        return;
    }
    g_autofree char *url = g_strdup_printf("https://%s/pair", meeting->address);
    char *body = json_dumps(meeting->answer, JSON_COMPACT);
    WireRequest *request = wire_request_new(EXCHANGE_HTTP, url);
    request->body = g_bytes_new(body, strlen(body));
    request->pin = g_strdup(meeting->pin);
    request->certificate = g_strdup(sync->own->certificate);
    request->key = g_strdup(sync->own->key);
    request->answer_max = INTRODUCTION_MAX;
    wire_request_header(request, "Content-Type", "application/json");
    free(body);
    g_clear_pointer(&meeting->answer, json_decref);
    sync->busy++;
    net_submit(sync->net, request, introduced, meeting);
}

static void looked(WireResponse *response, void *context)
{
    Meeting *meeting = context;
    uint8_t fingerprint[FINGERPRINT_BYTES];

    meeting->sync->busy--;
    if (response->phase != PHASE_ANSWERED ||
        !identity_fingerprint(response->certificate, fingerprint)) {
        g_autofree char *why =
            g_strdup_printf("nobody answers there by TLS: %s",
                            response->error != NULL ? response->error : "no certificate was shown");
        give_up(meeting, EXIT_LATER, why);
    } else if (!code_fits(&meeting->code, fingerprint)) {
        give_up(meeting, EXIT_NOT_ALLOWED,
                "who answers there is not who showed the code: nothing was told to it. Look at the "
                "address and the code once more; if both are right, somebody stands between");
    } else {
        meeting->pin = identity_pin(response->certificate);
        meeting->sync->busy++;
        desk_submit(meeting->sync->desk, introduce_job, introduce, meeting);
    }
    wire_response_free(response);
}

/* "box.example:8752", "192.0.2.7:8752", "[2001:db8::1]:8752". */
static bool is_address(const char *text)
{
    const char *colon = strrchr(text, ':');
    guint64 port;

    return strlen(text) <= 260 && colon != NULL && colon > text &&
           strspn(text, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789.-:[]") ==
               strlen(text) &&
           g_ascii_string_to_unsigned(colon + 1, 10, 1, 65535, &port, NULL);
}

void sync_join(Sync *sync, ServeRequest *request, const char *code, const json_t *body)
{
    const char *with = introduction_text(body, "with");
    g_autofree char *why = NULL;
    PairingCode parts;

    if (!code_read(code, &parts)) {
        answer_fault(
            request, 400, EXIT_DATA, "code", code,
            "is no pairing code: it has 20 letters and digits, such as ABCDE-FGHIJ-KLMNO-PQRST");
    } else if (with == NULL || !is_address(with)) {
        answer_fault(request, 400, EXIT_DATA, "with", with != NULL ? with : "",
                     "is no address: write it as box.example:8752");
    } else if (sync_own(sync, &why) == NULL || sync->net == NULL) {
        answer_fault(request, 500, EXIT_IO, "sync", "", why != NULL ? why : "cannot call");
    } else {
        Meeting *meeting = g_new0(Meeting, 1);
        g_autofree char *url = g_strdup_printf("https://%s/", with);
        WireRequest *look = wire_request_new(EXCHANGE_HTTP, url);

        *meeting =
            (Meeting){.sync = sync, .request = request, .address = g_strdup(with), .code = parts};
        look->look = true;
        look->timeout_ms = LOOK_MS;
        sync->busy++;
        net_submit(sync->net, look, looked, meeting);
    }
}
