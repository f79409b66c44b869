/* SPDX-License-Identifier: Apache-2.0 */
/* One request through libmicrohttpd, which calls visit_go_on for the head, for each piece of the
 * body, once the body is whole, and again after a suspended connection is resumed. */
#include <gnutls/gnutls.h>
#include <gnutls/x509.h>
#include <string.h>

#include "adapters/serve/mhd_inside.h"

enum {
    PIN_BYTES = 32,           /* SHA-256 */
    FIRST_BUFFER = 64 * 1024, /* a promise alone gets no more memory than this */
    PATIENCE = 4,             /* idle time-outs that a request as a whole may take */
    EXCESS_MAX =
        16 * 1024 *
        1024 /* bytes of an overlong body heard out, so that the client can read the refusal */
};

uint64_t visit_due_ms(const ServeMhd *serve)
{
    return uv_now(serve->loop) + (uint64_t)serve->limits.idle_timeout_s * 1000 * PATIENCE;
}

void *visit_begin(void *cls, const char *target, struct MHD_Connection *connection)
{
    Visit *visit = g_new0(Visit, 1);
    visit->serve = cls;
    visit->connection = connection;
    visit->peer =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_SOCKET_CONTEXT)->socket_context;
    visit->target = g_strdup(target);
    return visit;
}

static void drop_bytes(void *bytes)
{
    g_bytes_unref(bytes);
}

static struct MHD_Response *response_of(GBytes *body)
{
    size_t size;
    const void *data = g_bytes_get_data(body, &size);
    if (size == 0) return MHD_create_response_from_buffer(0, (void *)"", MHD_RESPMEM_PERSISTENT);
    return MHD_create_response_from_buffer_with_free_callback_cls(size, (void *)data, drop_bytes,
                                                                  g_bytes_ref(body));
}

/* "Name: value" */
static void add_header(struct MHD_Response *response, const char *line)
{
    size_t length = strcspn(line, ":");
    g_autofree char *name = g_strndup(line, length);
    g_autofree char *value = g_strstrip(g_strdup(line[length] == ':' ? line + length + 1 : ""));
    if (MHD_add_response_header(response, name, value) != MHD_YES)
        g_warning("header '%s' left out of an answer", name);
}

static enum MHD_Result send_answer(Visit *visit)
{
    const ServeRequest *request = visit->request;
    bool streams = request->stream != NULL;
    struct MHD_Response *response = streams ? stream_response(request->stream, visit->connection)
                                            : response_of(request->answer);
    if (request->content_type != NULL)
        MHD_add_response_header(response, MHD_HTTP_HEADER_CONTENT_TYPE, request->content_type);
    for (char **line = request->answer_headers; line != NULL && *line != NULL; line++)
        add_header(response, *line);
    for (char **line = request->also; line != NULL && *line != NULL; line++)
        add_header(response, *line);
    visit->peer->known = visit->peer->known || request->known;
    visit->peer->due_ms = streams ? 0 : visit_due_ms(visit->serve);
    if (streams) g_hash_table_remove(visit->serve->open, visit);
    enum MHD_Result result =
        MHD_queue_response(visit->connection, (unsigned)request->status, response);
    MHD_destroy_response(response);
    return result;
}

static enum MHD_Result send_refusal(Visit *visit, bool hang_up)
{
    struct MHD_Response *response =
        MHD_create_response_from_buffer(0, (void *)"", MHD_RESPMEM_PERSISTENT);
    if (hang_up) MHD_add_response_header(response, MHD_HTTP_HEADER_CONNECTION, "close");
    enum MHD_Result result =
        MHD_queue_response(visit->connection, (unsigned)visit->refused, response);
    MHD_destroy_response(response);
    return result;
}

static void answered(ServeRequest *request, void *owner)
{
    (void)request;
    Visit *visit = owner;
    if (!visit->suspended) return;
    visit->suspended = false;
    MHD_resume_connection(visit->connection);
    serve_mhd_kick(visit->serve);
}

static enum MHD_Result take_header(void *context, enum MHD_ValueKind kind, const char *name,
                                   const char *value)
{
    (void)kind;
    request_header(context, name, value ? value : "");
    return MHD_YES;
}

static const char *header(const Visit *visit, const char *name)
{
    return MHD_lookup_connection_value(visit->connection, MHD_HEADER_KIND, name);
}

static void refuse(Visit *visit, int status)
{
    visit->refused = status;
    g_clear_pointer(&visit->body, g_byte_array_unref);
}

/* libmicrohttpd has checked the length's form; one too large for us is as good as any other. */
static uint64_t length_promised(const Visit *visit)
{
    const char *text = header(visit, MHD_HTTP_HEADER_CONTENT_LENGTH);
    return text ? g_ascii_strtoull(text, NULL, 10) : 0;
}

/* The key in the certificate that the other side showed; that it holds the secret one, TLS has seen to. */
static char *pin_of(struct MHD_Connection *connection)
{
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_GNUTLS_SESSION);
    unsigned count = 0;
    const gnutls_datum_t *shown =
        info != NULL ? gnutls_certificate_get_peers(info->tls_session, &count) : NULL;
    unsigned char digest[PIN_BYTES];
    size_t length = sizeof digest;
    gnutls_x509_crt_t certificate;

    if (shown == NULL || count == 0 || gnutls_x509_crt_init(&certificate) != 0) return NULL;
    bool read =
        gnutls_x509_crt_import(certificate, &shown[0], GNUTLS_X509_FMT_DER) == 0 &&
        gnutls_x509_crt_get_key_id(certificate, GNUTLS_KEYID_USE_SHA256, digest, &length) == 0 &&
        length == sizeof digest;
    gnutls_x509_crt_deinit(certificate);
    if (!read) return NULL;
    g_autofree char *base64 = g_base64_encode(digest, sizeof digest);
    return g_strconcat("sha256//", base64, NULL);
}

/* Where not all are, what cannot even be read is not either. */
static bool is_heard(const Visit *visit)
{
    const ServeMhd *serve = visit->serve;

    if (serve->limits.keeps == NULL) return true;
    return visit->request != NULL && serve->limits.keeps(visit->request, serve->context);
}

static enum MHD_Result take_head(Visit *visit, const char *method)
{
    visit->headed = true;
    visit->request = request_new(method, visit->target);
    uint64_t promised = length_promised(visit);
    if (visit->request != NULL) {
        MHD_get_connection_values(visit->connection, MHD_HEADER_KIND, take_header, visit->request);
        if (visit->serve->certificate != NULL) visit->request->pin = pin_of(visit->connection);
    }
    if (visit->serve->closing)
        refuse(visit, MHD_HTTP_SERVICE_UNAVAILABLE);
    else if (!is_heard(visit))
        refuse(visit, MHD_HTTP_NOT_FOUND);
    else if (visit->request == NULL)
        refuse(visit, MHD_HTTP_BAD_REQUEST);
    else if (promised > visit->serve->limits.body_max)
        refuse(visit, MHD_HTTP_CONTENT_TOO_LARGE);
    if (visit->refused == 0) {
        visit->body = g_byte_array_sized_new((guint)MIN(promised, FIRST_BUFFER));
        return MHD_YES;
    }
    /* Who waits for leave to send hears at once; who is sending already is heard out first. */
    bool waits = header(visit, MHD_HTTP_HEADER_EXPECT) != NULL;
    return waits || promised > visit->serve->limits.body_max + EXCESS_MAX
               ? send_refusal(visit, true)
               : MHD_YES;
}

static enum MHD_Result take_body(Visit *visit, const char *data, size_t size)
{
    size_t body_max = visit->serve->limits.body_max;
    visit->heard += size;
    if (visit->refused == 0 && visit->heard > body_max) refuse(visit, MHD_HTTP_CONTENT_TOO_LARGE);
    if (visit->heard > body_max + EXCESS_MAX) return MHD_NO;
    if (visit->refused == 0) g_byte_array_append(visit->body, (const guint8 *)data, (guint)size);
    return MHD_YES;
}

static void hand_over(Visit *visit)
{
    ServeMhd *serve = visit->serve;
    visit->handed = true;
    visit->peer->due_ms = 0;
    request_body(visit->request, g_byte_array_free_to_bytes(g_steal_pointer(&visit->body)));
    visit->request->told = answered;
    visit->request->opens = stream_open;
    visit->request->owner = visit;
    g_hash_table_add(serve->open, visit);
    serve->handler(visit->request, serve->context);
    if (visit->request->answered) return;
    visit->suspended = true;
    MHD_suspend_connection(visit->connection);
}

enum MHD_Result visit_go_on(void *cls, struct MHD_Connection *connection, const char *url,
                            const char *method, const char *version, const char *data, size_t *size,
                            void **context)
{
    (void)cls;
    (void)connection;
    (void)url;
    (void)version;
    Visit *visit = *context;
    if (!visit->headed) return take_head(visit, method);
    if (*size > 0) {
        size_t length = *size;
        *size = 0;
        return take_body(visit, data, length);
    }
    if (visit->refused == 0 && !visit->handed && visit->serve->closing)
        refuse(visit,
               MHD_HTTP_SERVICE_UNAVAILABLE); /* nobody would wait for the handler's answer */
    if (visit->refused == 0 && !visit->handed) hand_over(visit);
    if (visit->suspended) return MHD_YES;
    return visit->refused != 0 ? send_refusal(visit, visit->serve->closing) : send_answer(visit);
}

void visit_end(void *cls, struct MHD_Connection *connection, void **context,
               enum MHD_RequestTerminationCode code)
{
    (void)cls;
    (void)connection;
    (void)code;
    Visit *visit = g_steal_pointer(context);
    if (visit == NULL) return;
    g_hash_table_remove(visit->serve->open, visit);
    visit->peer->due_ms = visit_due_ms(visit->serve);
    g_clear_pointer(&visit->body, g_byte_array_unref);
    if (visit->request != NULL) {
        visit->request->told = NULL;
        visit->request->opens = NULL;
        if (visit->request->stream != NULL) stream_gone(visit->request->stream);
        if (!visit->handed) visit->request->holders = 1; /* the handler never held it */
        request_release(visit->request);
    }
    g_free(visit->target);
    g_free(visit);
}

void visit_turn_away(Visit *visit)
{
    if (visit->request->answered) return;
    visit->request->told = NULL;
    visit->request->opens = NULL;
    visit->refused = MHD_HTTP_SERVICE_UNAVAILABLE;
    if (!visit->suspended) return;
    visit->suspended = false;
    MHD_resume_connection(visit->connection);
}
