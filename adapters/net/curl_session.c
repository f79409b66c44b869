/* SPDX-License-Identifier: Apache-2.0 */
/* Sessions with mail servers that are kept from one mail to the next, for as long as mails come one upon the other: whatever
 * ends in any way but well ends its session too. Servers bear a silent session for five minutes (RFC 5321 4.5.3.2.7); these
 * are ended within seconds (curl_mail.c). */
#include <string.h>
#include <sys/socket.h>

#include "adapters/net/curl_inside.h"

/* Whose session it is. What may not stand in an address, user or password parts them. */
static char *server_of(const WireRequest *request)
{
    return g_strjoin("\n", request->url, request->user != NULL ? request->user : "",
                     request->password != NULL ? request->password : "", NULL);
}

CURL *session_handle(Session *session)
{
    CURL *easy = session->easy;
    g_free(session->server);
    g_free(session);
    return easy;
}

Session *session_take(Mailroom *room, const WireRequest *request)
{
    if (request->kind != EXCHANGE_SMTP) return NULL;
    g_autofree char *server = server_of(request);
    for (GList *at = room->sessions.head; at != NULL; at = at->next) {
        Session *session = at->data;
        if (strcmp(session->server, server) != 0) continue;
        g_queue_delete_link(&room->sessions, at);
        return session;
    }
    return NULL;
}

Session *session_left(CURL *easy, const WireRequest *request)
{
    curl_socket_t socket = CURL_SOCKET_BAD;
    if (curl_easy_getinfo(easy, CURLINFO_ACTIVESOCKET, &socket) != CURLE_OK ||
        socket == CURL_SOCKET_BAD) {
        curl_easy_cleanup(easy);
        return NULL;
    }
    curl_easy_reset(easy); /* nothing of the exchange may be called from here on */
    curl_easy_setopt(easy, CURLOPT_NOSIGNAL, 1L);
    Session *session = g_new(Session, 1);
    *session = (Session){easy, socket, server_of(request)};
    return session;
}

/* libcurl says goodbye, and would wait two minutes for the answer: it finds that there is nothing more to be heard. */
static void say_goodbye(CURL *easy, curl_socket_t socket)
{
    if (socket != CURL_SOCKET_BAD) shutdown(socket, SHUT_RD);
    curl_easy_cleanup(easy);
}

void session_end(CURL *easy)
{
    curl_socket_t socket = CURL_SOCKET_BAD;
    if (easy == NULL) return;
    curl_easy_getinfo(easy, CURLINFO_ACTIVESOCKET, &socket);
    say_goodbye(easy, socket);
}

void session_part(Session *session)
{
    curl_socket_t socket = session->socket;
    say_goodbye(session_handle(session), socket);
}
