/* SPDX-License-Identifier: Apache-2.0 */
/* Who makes room where a listener is full. Somebody who opens connections and says nothing would otherwise keep everybody off
 * for as long as those may last: so they yield, the oldest of the address that has the most first, and whoever has something to
 * say is heard. A connection on which somebody has logged in yields only where all the others have. */
#include <netinet/in.h>
#include <sys/socket.h>

#include "adapters/serve/mhd_inside.h"

static uint64_t number_of(const uint8_t *bytes, int length)
{
    uint64_t number = 0;

    for (int i = 0; i < length; i++)
        number = number << 8 | bytes[i];
    return number;
}

/* Whoever has one address of a network of 64 bits has all of them: those are one site. No such network in use has a number as
 * small as an address of 32 bits. */
uint64_t room_site(const struct sockaddr *address)
{
    if (address != NULL && address->sa_family == AF_INET) {
        const struct sockaddr_in *four = (const void *)address;
        return ntohl(four->sin_addr.s_addr);
    }
    if (address != NULL && address->sa_family == AF_INET6) {
        const struct in6_addr *six =
            &((const struct sockaddr_in6 *)(const void *)address)->sin6_addr;
        return IN6_IS_ADDR_V4MAPPED(six) ? number_of(six->s6_addr + 12, 4)
                                         : number_of(six->s6_addr, 8);
    }
    return 0;
}

void room_cut(Peer *peer)
{
    shutdown(
        MHD_get_connection_info(peer->connection, MHD_CONNECTION_INFO_CONNECTION_FD)->connect_fd,
        SHUT_RDWR);
}

/* How many peers each site has; its keys are theirs. */
static GHashTable *count_sites(GHashTable *peers)
{
    GHashTable *counts = g_hash_table_new(g_int64_hash, g_int64_equal);
    GHashTableIter each;
    gpointer key;

    g_hash_table_iter_init(&each, peers);
    while (g_hash_table_iter_next(&each, &key, NULL)) {
        Peer *peer = key;
        guint count = GPOINTER_TO_UINT(g_hash_table_lookup(counts, &peer->site));
        g_hash_table_insert(counts, &peer->site, GUINT_TO_POINTER(count + 1));
    }
    return counts;
}

/* Does the one yield before the other? */
static bool yields_before(const Peer *one, const Peer *other, GHashTable *counts)
{
    guint first = GPOINTER_TO_UINT(g_hash_table_lookup(counts, &one->site));
    guint second = GPOINTER_TO_UINT(g_hash_table_lookup(counts, &other->site));

    if (one->known != other->known) return !one->known;
    return first != second ? first > second : one->number < other->number;
}

/* Of those that we wait for. */
static Peer *who_yields(const ServeMhd *serve)
{
    g_autoptr(GHashTable) counts = count_sites(serve->peers);
    GHashTableIter each;
    gpointer key;
    Peer *found = NULL;

    g_hash_table_iter_init(&each, serve->peers);
    while (g_hash_table_iter_next(&each, &key, NULL)) {
        Peer *peer = key;
        if (peer->due_ms == 0 || peer->cut) continue;
        if (found == NULL || yields_before(peer, found, counts)) found = peer;
    }
    return found;
}

bool room_for_one(ServeMhd *serve)
{
    if ((int)g_hash_table_size(serve->peers) - serve->cut < serve->limits.connections_max)
        return true;
    Peer *peer = serve->limits.yields ? who_yields(serve) : NULL;

    if (peer == NULL) return false;
    peer->cut = true;
    serve->cut++;
    room_cut(peer);
    return true;
}
