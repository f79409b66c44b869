/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/rogue.h"

#include <curl/curl.h>
#include <jansson.h>
#include <string.h>
#include <uv.h>

#include "adapters/peer/code.h"
#include "adapters/peer/identity.h"
#include "adapters/seal/seal.h"
#include "adapters/serve/serve_mhd.h"
#include "core/ledger/chain.h"

#define TOKEN UINT64_C(0x1234567890)

Rogue *rogue_new(const char *id)
{
    Rogue *rogue = g_new0(Rogue, 1);
    g_autofree char *why = NULL;

    g_strlcpy(rogue->replica, id, sizeof rogue->replica);
    g_assert_true(identity_make(&rogue->certificate, &rogue->key, &why));
    seal_keys(&rogue->seal, &rogue->open);
    return rogue;
}

void rogue_free(Rogue *rogue)
{
    g_free(rogue->certificate);
    g_free(rogue->key);
    g_free(rogue->seal);
    g_free(rogue->open);
    g_free(rogue);
}

/* --- calling --- */

static size_t keep(char *bytes, size_t size, size_t n, void *context)
{
    g_string_append_len(context, bytes, (gssize)(size * n));
    return size * n;
}

static void show_key(CURL *curl, const Rogue *rogue)
{
    struct curl_blob certificate = {rogue->certificate, strlen(rogue->certificate), CURL_BLOB_COPY};
    struct curl_blob key = {rogue->key, strlen(rogue->key), CURL_BLOB_COPY};

    curl_easy_setopt(curl, CURLOPT_SSLCERT_BLOB, &certificate);
    curl_easy_setopt(curl, CURLOPT_SSLCERTTYPE, "PEM");
    curl_easy_setopt(curl, CURLOPT_SSLKEY_BLOB, &key);
    curl_easy_setopt(curl, CURLOPT_SSLKEYTYPE, "PEM");
}

static CURL *prepare(const Rogue *rogue, const char *url, const char *method, GBytes *body)
{
    CURL *curl = curl_easy_init();

    curl_easy_setopt(curl, CURLOPT_URL, url);
    curl_easy_setopt(curl, CURLOPT_CUSTOMREQUEST, method);
    curl_easy_setopt(curl, CURLOPT_NOSIGNAL, 1L);
    curl_easy_setopt(curl, CURLOPT_TIMEOUT, 60L);
    curl_easy_setopt(curl, CURLOPT_SSL_VERIFYPEER, 0L);
    curl_easy_setopt(curl, CURLOPT_SSL_VERIFYHOST, 0L);
    curl_easy_setopt(curl, CURLOPT_WRITEFUNCTION, keep);
    if (body != NULL) {
        curl_easy_setopt(curl, CURLOPT_POSTFIELDSIZE_LARGE, (curl_off_t)g_bytes_get_size(body));
        curl_easy_setopt(curl, CURLOPT_POSTFIELDS, g_bytes_get_data(body, NULL));
    }
    if (rogue != NULL) show_key(curl, rogue);
    return curl;
}

static long ask(const Rogue *rogue, int port, const char *method, const char *path, GBytes *body,
                bool old, GString *head, GString *heard)
{
    g_autofree char *url = g_strdup_printf("https://127.0.0.1:%d%s", port, path);
    CURL *curl = prepare(rogue, url, method, body);
    struct curl_slist *headers = curl_slist_append(NULL, "Expect:");
    long status = 0;

    curl_easy_setopt(curl, CURLOPT_HTTPHEADER, headers);
    if (old)
        curl_easy_setopt(curl, CURLOPT_SSLVERSION,
                         (long)CURL_SSLVERSION_TLSv1_2 | (long)CURL_SSLVERSION_MAX_TLSv1_2);
    curl_easy_setopt(curl, CURLOPT_WRITEDATA, heard);
    curl_easy_setopt(curl, CURLOPT_HEADERDATA, head);
    curl_easy_perform(curl); /* an answer may come before all was sent */
    curl_easy_getinfo(curl, CURLINFO_RESPONSE_CODE, &status);
    curl_slist_free_all(headers);
    curl_easy_cleanup(curl);
    return status;
}

long rogue_asks(const Rogue *rogue, int port, const char *method, const char *path, GBytes *body,
                bool old, GString *heard)
{
    return ask(rogue, port, method, path, body, old, heard, heard);
}

static json_t *introduction(const Rogue *rogue, const char *clinic, const char *token)
{
    return json_pack("{s:s, s:s, s:s, s:s, s:s, s:b, s:b, s:[], s:s}", "replica", rogue->replica,
                     "name", "rogue", "clinic", clinic, "certificate", rogue->certificate, "seal",
                     rogue->seal, "sends", 0, "has_clients", 0, "numbers", "token", token);
}

static GBytes *bytes_of(json_t *document)
{
    char *text = json_dumps(document, JSON_COMPACT);
    GBytes *bytes = g_bytes_new(text, strlen(text));

    free(text);
    json_decref(document);
    return bytes;
}

long rogue_meets(const Rogue *rogue, int port, const char *code, const char *clinic)
{
    PairingCode parts;
    g_autoptr(GString) heard = g_string_new(NULL);

    g_assert_true(code_read(code, &parts));
    g_autoptr(GBytes) body = bytes_of(introduction(rogue, clinic, parts.token));
    return rogue_asks(rogue, port, "POST", "/pair", body, false, heard);
}

Parcel *rogue_visits(const Rogue *rogue, int port, Parcel *parcel, long *status)
{
    g_autoptr(GBytes) packed = parcel_pack(parcel);
    g_autoptr(GString) head = g_string_new(NULL);
    g_autoptr(GString) heard = g_string_new(NULL);
    const char *why;

    parcel_free(parcel);
    *status = ask(rogue, port, "POST", "/sync", packed, false, head, heard);
    if (*status != 200) return NULL;
    g_autoptr(GBytes) answer = g_bytes_new(heard->str, heard->len);
    return parcel_unpack(answer, &why);
}

/* --- writing --- */

void rogue_writes(Rogue *rogue, Parcel *into, int64_t wall, const char *kind, const char *subject,
                  const char *body)
{
    Event *event = event_new();

    *event = (Event){.replica = g_strdup(rogue->replica),
                     .seq = rogue->seq + 1,
                     .wall = wall,
                     .kind = g_strdup(kind),
                     .subject = g_strdup(subject),
                     .author = g_strdup("R. Okafor"),
                     .body = g_strdup(body)};
    chain_seal(event, rogue->seq > 0 ? rogue->digest : NULL);
    rogue->seq = event->seq;
    memcpy(rogue->digest, event->digest, DIGEST_BYTES);
    g_ptr_array_add(into->events, event);
    g_array_set_size(into->vector, 0);
    vector_add(into->vector, rogue->replica, rogue->seq, rogue->digest);
}

/* --- being called --- */

struct RogueHost {
    const Rogue *rogue;
    RogueAnswer *answer;
    void *context;
    RogueLend *lend; /* or NULL */
    GThread *thread;
    uv_loop_t loop;
    uv_async_t end;
    Serve *serve;
    int port;
};

static void answer_parcel(RogueHost *host, ServeRequest *request)
{
    const char *why;
    g_autoptr(Parcel) question = parcel_unpack(serve_body(request), &why);

    g_assert_nonnull(question);
    g_autoptr(Parcel) answer = host->answer(question, host->context);
    serve_answer(request, 200, NULL, NULL,
                 answer != NULL ? parcel_pack(answer) : g_bytes_new("no parcel", 9));
}

static void answer_snapshot(RogueHost *host, ServeRequest *request)
{
    size_t length;
    const char *bytes = g_bytes_get_data(serve_body(request), &length);
    json_t *question = json_loadb(bytes, length, 0, NULL);
    int status = 404;
    GBytes *answer = host->lend != NULL ? host->lend(question, &status, host->context) : NULL;

    serve_answer(request, status, NULL, NULL, answer);
    json_decref(question);
}

static void handle(ServeRequest *request, void *context)
{
    RogueHost *host = context;
    size_t length;
    const char *bytes = g_bytes_get_data(serve_body(request), &length);

    if (strcmp(serve_path(request), "/sync") == 0) {
        answer_parcel(host, request);
    } else if (strcmp(serve_path(request), "/snapshot") == 0) {
        answer_snapshot(host, request);
    } else if (length > 0) {
        json_t *other = json_loadb(bytes, length, 0, NULL);
        const char *clinic = json_string_value(json_object_get(other, "clinic"));
        serve_answer(request, 200, NULL, NULL, bytes_of(introduction(host->rogue, clinic, "")));
        json_decref(other);
    } else {
        serve_answer(request, 404, NULL, NULL, NULL);
    }
}

static void end(uv_async_t *async)
{
    RogueHost *host = async->data;

    host->serve->close(host->serve);
    uv_close((uv_handle_t *)async, NULL);
}

static gpointer turn(gpointer context)
{
    uv_run(context, UV_RUN_DEFAULT);
    return NULL;
}

RogueHost *rogue_host_new(const Rogue *rogue, RogueAnswer *answer, void *context)
{
    static const ServeLimits LIMITS = {
        .body_max = PARCEL_MAX, .connections_max = 16, .idle_timeout_s = 30};
    RogueHost *host = g_new0(RogueHost, 1);
    g_autofree char *why = NULL;

    host->rogue = rogue;
    host->answer = answer;
    host->context = context;
    g_assert_cmpint(uv_loop_init(&host->loop), ==, 0);
    host->serve = serve_tls_new(&host->loop, "127.0.0.1:0", rogue->certificate, rogue->key, &LIMITS,
                                handle, host, &why);
    if (host->serve == NULL) g_error("%s", why);
    host->port = serve_port(host->serve);
    uv_async_init(&host->loop, &host->end, end);
    host->end.data = host;
    host->thread = g_thread_new("rogue", turn, &host->loop);
    return host;
}

void rogue_host_free(RogueHost *host)
{
    uv_async_send(&host->end);
    g_thread_join(host->thread);
    g_assert_cmpint(uv_loop_close(&host->loop), ==, 0);
    g_free(host);
}

void rogue_host_lends(RogueHost *host, RogueLend *lend)
{
    host->lend = lend;
}

int rogue_host_port(const RogueHost *host)
{
    return host->port;
}

char *rogue_host_code(const RogueHost *host)
{
    uint8_t fingerprint[FINGERPRINT_BYTES];

    g_assert_true(identity_fingerprint(host->rogue->certificate, fingerprint));
    return code_make(fingerprint, TOKEN);
}
