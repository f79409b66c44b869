/* SPDX-License-Identifier: Apache-2.0 */
/* What the files of the libmicrohttpd side share. Private to this folder. */
#ifndef OSIER_ADAPTERS_SERVE_MHD_INSIDE_H
#define OSIER_ADAPTERS_SERVE_MHD_INSIDE_H

#include <microhttpd.h>

#include "adapters/serve/request.h"
#include "adapters/serve/serve_mhd.h"

typedef struct {
    Serve port;
    uv_loop_t *loop;
    ServeLimits limits;
    ServeHandler *handler;
    void *context;
    struct MHD_Daemon *daemon;
    uv_poll_t poll;     /* libmicrohttpd's epoll descriptor */
    uv_timer_t timer;   /* libmicrohttpd's own time-out */
    uv_timer_t sweep;   /* looks for connections that take too long */
    uv_timer_t pulse;   /* fills the silences of streams */
    GPtrArray *streams; /* of ServeStream */
    GHashTable *peers;  /* set of Peer: open connections */
    uint64_t came;      /* how many have come in all */
    int cut;            /* of peers: cut off, and not yet gone */
    GHashTable *open;   /* set of Visit: handed to the handler and not completed */
    int handles;        /* of libuv, not yet closed */
    int tcp_port;
    char *certificate; /* TLS (PEM), or NULL */
    char *key;
    char *path; /* Unix socket, or NULL */
    uint64_t path_device, path_inode;
    bool inside; /* libmicrohttpd is running: it may not be entered again */
    bool closing;
} ServeMhd;

/* A connection. due_ms (by the loop's clock) is when the client's part of what goes on must be
 * done; 0 while the handler thinks. */
typedef struct {
    struct MHD_Connection *connection;
    uint64_t due_ms;
    uint64_t number; /* in the order in which they came */
    uint64_t site;   /* of its address */
    bool known;      /* who is at its other end */
    bool cut;
} Peer;

/* One request on its way through: heard, handed to the handler, perhaps waited for, answered. */
typedef struct {
    ServeMhd *serve;
    struct MHD_Connection *connection;
    Peer *peer;
    char *target;
    ServeRequest *request; /* NULL until the head was read, or where it is refused */
    GByteArray *body;
    size_t heard; /* bytes of body, kept or not */
    int refused;  /* status, or 0 */
    bool headed, handed, suspended;
} Visit;

/* stream.c: makes the stream of a request handed to the handler; the response that feeds from it; and
 * what follows when its connection has ended, and when listening ends. */
ServeStream *stream_open(ServeRequest *request, const char *filler, ServeStreamGone *gone,
                         void *context);
struct MHD_Response *stream_response(ServeStream *stream, struct MHD_Connection *connection);
void stream_gone(ServeStream *stream);
void streams_end(ServeMhd *serve);

/* room.c: where an address belongs to, as a number: equal for neighbours in one network of IPv6 alone, 0 for what is none; may
 * one more come in? Where connections yield, one of them is cut off for it. */
uint64_t room_site(const struct sockaddr *address);
bool room_for_one(ServeMhd *serve);

/* Cuts a connection off: libmicrohttpd finds it ended, and says so. */
void room_cut(Peer *peer);

/* serve_mhd.c: something was resumed; runs libmicrohttpd soon. */
void serve_mhd_kick(ServeMhd *serve);

/* visit.c: libmicrohttpd's callbacks, cls is the ServeMhd. */
void *visit_begin(void *cls, const char *target, struct MHD_Connection *connection);
enum MHD_Result visit_go_on(void *cls, struct MHD_Connection *connection, const char *url,
                            const char *method, const char *version, const char *data, size_t *size,
                            void **visit);
void visit_end(void *cls, struct MHD_Connection *connection, void **visit,
               enum MHD_RequestTerminationCode code);

/* Takes a visit from a handler that has not answered yet, and answers 503. */
void visit_turn_away(Visit *visit);

/* When a client that starts its part now must be done. */
uint64_t visit_due_ms(const ServeMhd *serve);

#endif
