/* SPDX-License-Identifier: Apache-2.0 */
/* What the files of the curl carrier share. Private to this folder. */
#ifndef OSIER_ADAPTERS_NET_CURL_INSIDE_H
#define OSIER_ADAPTERS_NET_CURL_INSIDE_H

#include <curl/curl.h>

#include "adapters/net/net_curl.h"

typedef struct {
    Net port;
    uv_loop_t *loop;
    NetCurlOptions options; /* ca_file owned */
    CURLM *multi;
    uv_timer_t timer;    /* curl's own time-out */
    uv_timer_t late;     /* delivers what ended before it began */
    GHashTable *watches; /* fd -> Watch */
    GQueue waiting;      /* of Exchange, for a free place */
    GQueue running;      /* of Exchange, known to the multi handle */
    GQueue ended;        /* of Exchange, response ready */
    GPtrArray *spare;    /* easy handles to use again */
    int in_flight;
    int handles; /* of libuv, not yet closed */
    bool closing;
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
    size_t mail_read;      /* bytes of the message given to curl */
    bool mail_drained;     /* curl was told that the message is at its end */
    bool reply_whole;      /* SMTP: the last line kept ended a reply */
    int sends;             /* times that the pre-request callback let it pass */
    bool end_passed;       /* stopped by end_ms */
    bool repeat_refused;   /* stopped before a silent second send */
    bool answer_too_large; /* stopped by answer_max */
    bool outside_refused;  /* an address outside the loopback was refused */
    char why[CURL_ERROR_SIZE];
    WireResponse *response; /* once ended */
} Exchange;

/* curl_exchange.c: NULL, or why the request cannot be carried at all (g_free). */
char *exchange_fault(const Exchange *exchange);

/* Fills the easy handle. False where libcurl refuses an option. */
bool exchange_set_up(Exchange *exchange);

/* Has the exchange's end passed by the wall clock? */
bool exchange_is_late(const Exchange *exchange);

/* curl_outcome.c: the response of an exchange that curl has ended, still with its easy handle. */
WireResponse *exchange_outcome(const Exchange *exchange, CURLcode code);

/* The response of an exchange that is stopped by us: UNSURE where a byte may have left. */
WireResponse *exchange_stopped(const Exchange *exchange, const char *why);

/* Frees all but the easy handle and a response that was handed on. */
void exchange_free(Exchange *exchange);

/* curl_socket.c: callbacks for libcurl, and the end of a watch that libcurl left behind. */
curl_socket_t socket_open(void *exchange, curlsocktype purpose, struct curl_sockaddr *address);
int socket_close(void *net, curl_socket_t fd);
int socket_watch(CURL *easy, curl_socket_t fd, int what, void *net, void *unused);
bool socket_host_is_loopback(const char *url);
void socket_stop_reading(const Exchange *exchange);
void sockets_forget(NetCurl *net);

/* net_curl.c: curl has something to do for a socket (or CURL_SOCKET_TIMEOUT). */
void net_curl_act(NetCurl *net, curl_socket_t fd, int flags);
void net_curl_handle_closed(uv_handle_t *handle);

#endif
