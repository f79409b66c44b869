/* SPDX-License-Identifier: Apache-2.0 */
/* What the files of the curl carrier share. Private to this folder. */
#ifndef OSIER_ADAPTERS_NET_CURL_INSIDE_H
#define OSIER_ADAPTERS_NET_CURL_INSIDE_H

#include <curl/curl.h>

#include "adapters/net/net_curl.h"

/* A log-in to a mail server that may serve one mail after the other. */
typedef struct {
    CURL *easy;           /* holds the connection */
    curl_socket_t socket; /* of it */
    char *server;         /* whose it is: address, user and password */
} Session;

/* SMTP and IMAP: threads of their own, each of which takes one exchange after the other. */
typedef struct {
    uv_async_t told; /* an exchange ended, or a thread */
    GQueue unjoined; /* of GThread */
    int untold;      /* exchanges; while there are any the loop waits */

    uv_mutex_t lock; /* over what follows */
    uv_cond_t come;  /* a mail, or the end */
    GQueue waiting;  /* of Exchange, for a thread */
    GQueue running;  /* of Exchange, in a thread */
    GQueue ended;    /* of Exchange, response ready */
    GQueue over;     /* of GThread, to be joined */
    GQueue sessions; /* of Session, kept for the next mail; the last used first */
    int threads;     /* that take mail */
    int idle;        /* of these, waiting for some */
    bool closing;
} Mailroom;

typedef struct {
    Net port;
    uv_loop_t *loop;
    NetCurlOptions options; /* ca_file owned */
    CURLM *multi;
    uv_timer_t timer;    /* curl's own time-out */
    uv_timer_t late;     /* delivers what ended before it began */
    GHashTable *watches; /* fd -> Watch */
    GQueue waiting;      /* of Exchange, for a free place: HTTP */
    GQueue running;      /* of Exchange, known to the multi handle */
    GQueue ended;        /* of Exchange, response ready */
    GPtrArray *spare;    /* easy handles to use again */
    int in_flight;
    int held; /* handles of libuv not yet closed */
    bool closing;
    Mailroom mail;
} NetCurl;

typedef struct {
    NetCurl *net;
    WireRequest *request;
    NetDone *done;
    void *context;
    CURL *easy; /* while running */
    struct curl_slist *headers;
    struct curl_slist *recipients;
    GByteArray *answer;
    GString *head;         /* IMAP: the lines beside the answer */
    size_t mail_read;      /* bytes of the message given to curl */
    bool reply_whole;      /* SMTP: the last line kept ended a reply */
    bool answer_too_large; /* stopped by answer_max */
    bool outside_refused;  /* an address outside the loopback was refused */
    char why[CURL_ERROR_SIZE];
    WireResponse *response; /* once ended */
    Session *session; /* SMTP: once it may serve the next mail, or when it served one before */
    bool told;        /* SMTP and IMAP: done was called while the thread was still busy */

    uv_mutex_t lock;     /* over what follows: a thread moves it on while the loop may stop it */
    int sends;           /* times that the pre-request callback let it pass */
    bool mail_drained;   /* curl was told that the message is at its end */
    bool end_passed;     /* stopped by end_ms */
    bool repeat_refused; /* stopped before a silent second send */
    bool stopped;        /* its end is decided; nothing more may leave */
} Exchange;

/* net_curl.c: the last thing that happens to an exchange: frees it and tells its end, which it
 * takes over. */
void exchange_deliver(Exchange *exchange, WireResponse *response);

/* Tells an end without freeing. The callback may submit more, or close the net. */
void exchange_tell(Exchange *exchange, WireResponse *response);

/* Ended, but not to be told from here. */
void exchange_end_later(Exchange *exchange, WireResponse *response);

/* curl has something to do for a socket (or CURL_SOCKET_TIMEOUT). */
void net_curl_act(NetCurl *net, curl_socket_t fd, int flags);

/* One handle less; the last frees the net. */
void net_curl_let_go(NetCurl *net);

/* curl_exchange.c: NULL, or why the request cannot be carried at all (g_free). */
char *exchange_fault(const Exchange *exchange);

/* Has the exchange's end passed by the wall clock? */
bool exchange_is_late(const Exchange *exchange);

/* HTTP: has the kernel taken no byte of the request yet, over all of libcurl's tries? */
bool exchange_wrote_nothing(const Exchange *exchange);

/* Fills the easy handle. False where libcurl refuses an option. */
bool exchange_set_up(Exchange *exchange);

/* curl_mail_options.c: the part of it that SMTP and IMAP need. */
bool exchange_set_up_mail(Exchange *exchange);

/* curl_outcome.c: the response of an exchange that curl has ended, still with its easy handle. */
WireResponse *exchange_outcome(Exchange *exchange, CURLcode code);

/* The response of an exchange that is stopped by us, from now on: UNSURE where a byte may have
 * left. */
WireResponse *exchange_stop(Exchange *exchange, const char *why);

/* Frees all but a response that was handed on. */
void exchange_free(Exchange *exchange);

/* curl_mail.c: the room at its birth; takes an exchange in; tells the end of all mail, waiting or running, at once. */
void mail_set_up(NetCurl *net);
void mail_submit(Exchange *exchange);
void mail_abandon(NetCurl *net);

/* curl_session.c: a session with the request's server, out of those that are kept, or NULL. With the room locked. */
Session *session_take(Mailroom *room, const WireRequest *request);

/* Its easy handle; the rest of it is freed. */
CURL *session_handle(Session *session);

/* What is left of a clean exchange: the easy handle with its connection, NULL where there is none. */
Session *session_left(CURL *easy, const WireRequest *request);

/* Ends whatever session an easy handle (or NULL) has, and frees it. Takes a while: not on the loop. */
void session_end(CURL *easy);

/* Likewise a session that was kept. */
void session_part(Session *session);

/* curl_socket.c: callbacks for libcurl, and the end of all watches. */
curl_socket_t socket_open(void *exchange, curlsocktype purpose, struct curl_sockaddr *address);
curl_socket_t socket_open_watched(void *exchange, curlsocktype purpose,
                                  struct curl_sockaddr *address);
int socket_close(void *net, curl_socket_t fd);
int socket_watch(CURL *easy, curl_socket_t fd, int what, void *net, void *unused);
void sockets_forget(NetCurl *net);

/* Whether a URL names the loopback by itself, with no name server asked. */
bool socket_host_is_loopback(const char *url);

#endif
