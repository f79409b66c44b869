/* SPDX-License-Identifier: Apache-2.0 */
/* One exchange with the outside, as values: what a translator asks for and a carrier brings back.
 */
#ifndef OSIER_CORE_WIRE_EXCHANGE_H
#define OSIER_CORE_WIRE_EXCHANGE_H

#include <glib.h>
#include <stdbool.h>
#include <stdint.h>

/* A knock makes a connection to the url's host and port, sends nothing and closes it: made, it is PHASE_ANSWERED. */
typedef enum { EXCHANGE_HTTP, EXCHANGE_SMTP, EXCHANGE_IMAP, EXCHANGE_KNOCK } ExchangeKind;

/* A request. All strings are owned by it. */
typedef struct {
    ExchangeKind kind;
    char *url;
    /* HTTP: the path of the socket that is spoken to instead of the url's host, or NULL */
    char *unix_socket;
    char *method;       /* HTTP: "POST"; IMAP: custom command or NULL */
    GPtrArray *headers; /* HTTP: "Name: value" strings without CR, LF, NUL; never NULL */
    GBytes *body;       /* HTTP body or SMTP message; may be NULL */
    char *user;         /* SMTP, IMAP log-in, or NULL */
    char *password;
    char *mail_from;    /* SMTP envelope */
    GPtrArray *mail_to; /* SMTP recipients, or NULL */
    int64_t timeout_ms; /* of the whole exchange, by the real clock */
    int64_t end_ms;     /* wall instant after which the first byte must not leave; 0: none */
    bool repeatable;    /* a silent second try on a fresh connection does no harm */
    size_t answer_max;  /* bytes of answer kept; more fails the exchange */
    /* HTTPS: "sha256//" and the base64 of the SHA-256 of the other side's public key (RFC 7469 section 2.4), which is
     * trusted for that alone, by TLS 1.3; NULL: by its certificate's issuer */
    char *pin;
    char *certificate; /* HTTPS: who we are to the other side (PEM), or NULL */
    char *key;         /* and its secret key (PEM) */
    /* HTTPS: any certificate is taken, so that it can be looked at; send nothing secret */
    bool look;
} WireRequest;

/* How far an exchange came. Only PHASE_NEVER_LEFT is sure not to have been seen by the other side.
 */
typedef enum {
    PHASE_NEVER_LEFT, /* no connection, or stopped before the first byte */
    PHASE_UNSURE,     /* bytes left, no whole answer came */
    PHASE_ANSWERED    /* a whole answer came; status is set */
} WirePhase;

typedef struct {
    WirePhase phase;
    long status;  /* HTTP status, or last SMTP reply code; 0 where there is none. An SMTP session
                     refused before  the envelope (greeting, log-in) is PHASE_NEVER_LEFT with the
                     reply's code and text. */
    GBytes *body; /* never NULL; for SMTP the text of the last reply */
    char *content_type;    /* or NULL */
    int64_t retry_after_s; /* Retry-After in seconds, -1 where absent */
    bool end_passed;       /* stopped by end_ms */
    bool unreachable;  /* no name, no route, no connection: the other side was not reached at all */
    char *certificate; /* the other side's (PEM) where the request was to look at it, or NULL */
    bool too_large;    /* stopped by answer_max; for IMAP the body then is its beginning */
    char *head;        /* IMAP: what the server said besides the body, at most 16 kB; else NULL */
    char *error;       /* one line where phase is not PHASE_ANSWERED, else NULL */
} WireResponse;

/* A request with the defaults: 30 s, 1 MiB of answer, not repeatable, no end. Freed with
 * wire_request_free. */
WireRequest *wire_request_new(ExchangeKind kind, const char *url);
void wire_request_free(WireRequest *request);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(WireRequest, wire_request_free)

/* Adds a header. False, and nothing added, where name or value holds CR, LF or NUL, or the name is
 * no token. */
bool wire_request_header(WireRequest *request, const char *name, const char *value);

/* A response with copies of body and error (NULL: none). */
WireResponse *wire_response_new(WirePhase phase, long status, const char *body, const char *error);
void wire_response_free(WireResponse *response);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(WireResponse, wire_response_free)

#endif
