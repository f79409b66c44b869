/* SPDX-License-Identifier: Apache-2.0 */
#include "core/ledger/id.h"

#include <string.h>

#include "core/ledger/hash.h"

#define ID_BYTES 16

char *id_of(const char *first, ...)
{
    static const char DIGITS[] = "0123456789ABCDEF";
    uint8_t digest[HASH_BYTES];
    char *id = g_malloc(2 * ID_BYTES + 1);
    va_list parts;
    Hash hash;

    hash_begin(&hash);
    va_start(parts, first);
    for (const char *part = first; part != NULL; part = va_arg(parts, const char *))
        hash_text(&hash, part);
    va_end(parts);
    hash_end(&hash, digest);
    for (int i = 0; i < ID_BYTES; i++) {
        id[2 * i] = DIGITS[digest[i] >> 4];
        id[2 * i + 1] = DIGITS[digest[i] & 15];
    }
    id[2 * ID_BYTES] = '\0';
    return id;
}

bool id_is_derived(const char *id)
{
    return strlen(id) == 2 * ID_BYTES && strspn(id, "0123456789ABCDEF") == 2 * ID_BYTES;
}

char *id_session(const char *client, const char *date, int slot)
{
    char number[16];

    g_snprintf(number, sizeof number, "%d", slot);
    return id_of("session", client, date, number, NULL);
}

char *id_message(const char *purpose)
{
    return id_of("message", purpose, NULL);
}

char *id_reply_fingerprint(const char *from, const char *text, int64_t at_ms)
{
    char number[24];

    g_snprintf(number, sizeof number, "%" G_GINT64_FORMAT, at_ms);
    return id_of("fingerprint", from != NULL ? from : "", text != NULL ? text : "", number, NULL);
}

char *id_reply(const char *gateway, const char *gateway_id, const char *from, const char *text,
               int64_t at_ms)
{
    if (gateway_id != NULL) return id_of("reply", gateway, gateway_id, NULL);
    g_autofree char *fingerprint = id_reply_fingerprint(from, text, at_ms);
    return id_of("reply by fingerprint", gateway, fingerprint, NULL);
}

char *id_alert(const char *client, const char *matter, const char *cause)
{
    return id_of("alert", client, matter, cause, NULL);
}

static const char CLIENT_ALPHABET[] = "23456789ABCDEFGHJKMNPQRSTVWXYZ";
#define CLIENT_BASE (sizeof CLIENT_ALPHABET - 1)
#define CLIENT_CHARS 8

char *id_client(uint64_t bits)
{
    char id[CLIENT_CHARS + 1] = {0};

    bits &= (UINT64_C(1) << 40) - 1;
    for (int i = 0; i < CLIENT_CHARS; i++, bits /= CLIENT_BASE)
        id[i] = CLIENT_ALPHABET[bits % CLIENT_BASE];
    return g_strdup(id);
}

char *id_client_at(uint64_t rank)
{
    char id[CLIENT_CHARS + 1] = {0};

    g_assert(rank < ID_CLIENT_COUNT);
    for (int i = CLIENT_CHARS - 1; i >= 0; i--, rank /= CLIENT_BASE)
        id[i] = CLIENT_ALPHABET[rank % CLIENT_BASE];
    return g_strdup(id);
}

char *id_text(const char *text)
{
    return g_compute_checksum_for_string(G_CHECKSUM_SHA256, text, -1);
}
