/* SPDX-License-Identifier: Apache-2.0 */
#include "core/ledger/pack.h"

#include <string.h>

#include "core/ledger/body.h"
#include "core/ledger/plain.h"

#define ABSENT UINT32_MAX
#define WORD_MAX 200
#define SUBJECT_MAX 300
/* Bytes of bodies of which the trees are kept. */
#define TREES_MAX (1024 * 1024)

void pack_number(GByteArray *bytes, int64_t number)
{
    uint64_t big_endian = GUINT64_TO_BE((uint64_t)number);

    g_byte_array_append(bytes, (const guint8 *)&big_endian, sizeof big_endian);
}

void pack_raw(GByteArray *bytes, const void *data, size_t length)
{
    g_byte_array_append(bytes, data, (guint)length);
}

void pack_string(GByteArray *bytes, const char *text)
{
    size_t length = text != NULL ? strlen(text) : 0;
    uint32_t big_endian = GUINT32_TO_BE(text != NULL ? (uint32_t)length : ABSENT);

    g_assert(length < ABSENT);
    g_byte_array_append(bytes, (const guint8 *)&big_endian, sizeof big_endian);
    g_byte_array_append(bytes, (const guint8 *)text, (guint)length);
}

void pack_event(GByteArray *bytes, const Event *event)
{
    pack_string(bytes, event->replica);
    pack_number(bytes, event->seq);
    pack_number(bytes, event->wall);
    pack_number(bytes, event->logical);
    pack_string(bytes, event->kind);
    pack_string(bytes, event->subject);
    pack_string(bytes, event->author);
    pack_string(bytes, event->base);
    pack_string(bytes, event->body);
    pack_raw(bytes, event->salt, SALT_BYTES);
    pack_raw(bytes, event->body_hash, DIGEST_BYTES);
    pack_raw(bytes, event->digest, DIGEST_BYTES);
}

bool unpack_raw(Packed *packed, void *data, size_t length)
{
    if (packed->broken || packed->left < length) {
        packed->broken = true;
        memset(data, 0, length);
        return false;
    }
    memcpy(data, packed->at, length);
    packed->at += length;
    packed->left -= length;
    return true;
}

int64_t unpack_number(Packed *packed)
{
    uint64_t big_endian = 0;

    unpack_raw(packed, &big_endian, sizeof big_endian);
    return (int64_t)GUINT64_FROM_BE(big_endian);
}

char *unpack_string(Packed *packed, size_t most)
{
    uint32_t big_endian = 0;

    unpack_raw(packed, &big_endian, sizeof big_endian);
    uint32_t length = GUINT32_FROM_BE(big_endian);
    if (packed->broken || length == ABSENT) return NULL;
    if (length > most || length > packed->left ||
        !plain_is_text((const char *)packed->at, length)) {
        packed->broken = true;
        return NULL;
    }
    char *text = g_strndup((const char *)packed->at, length);
    packed->at += length;
    packed->left -= length;
    return text;
}

static bool is_replica(const char *text)
{
    return text != NULL && strlen(text) == 16 && strspn(text, "0123456789abcdef") == 16;
}

static bool is_kind(const char *text)
{
    return text != NULL && *text != '\0' && strlen(text) <= 40 &&
           strspn(text, "abcdefghijklmnopqrstuvwxyz._") == strlen(text);
}

static const char *head_fault(const Event *event)
{
    if (!is_replica(event->replica)) return "its replica is no id";
    if (event->seq < 1) return "its number is below 1";
    if (!is_kind(event->kind)) return "its kind is no word";
    if (event->subject == NULL || *event->subject == '\0') return "it is about nothing";
    if (event->author == NULL) return "it has no author";
    return NULL;
}

const char *event_fault(const Event *event)
{
    const char *fault = head_fault(event);

    if (fault != NULL || event->body == NULL) return fault;
    json_t *tree = event->tree != NULL ? json_incref(event->tree) : body_read(event->body);
    fault = json_is_object(tree) ? NULL : "its body is no JSON object";
    json_decref(tree);
    return fault;
}

/* A tree may take many times the room of its text: of a peer that sends the worst there is, not all are kept. */
static void keep_tree(Packed *packed, Event *event)
{
    size_t length = event->body != NULL ? strlen(event->body) : 0;

    if (length == 0 || packed->trees + length > TREES_MAX) return;
    packed->trees += length;
    event->tree = body_read(event->body);
}

Event *unpack_event(Packed *packed)
{
    g_autoptr(Event) event = event_new();

    event->replica = unpack_string(packed, 16);
    event->seq = unpack_number(packed);
    event->wall = unpack_number(packed);
    event->logical = unpack_number(packed);
    event->kind = unpack_string(packed, WORD_MAX);
    event->subject = unpack_string(packed, SUBJECT_MAX);
    event->author = unpack_string(packed, WORD_MAX * 4);
    event->base = unpack_string(packed, WORD_MAX);
    event->body = unpack_string(packed, PACK_BODY_MAX);
    unpack_raw(packed, event->salt, SALT_BYTES);
    unpack_raw(packed, event->body_hash, DIGEST_BYTES);
    unpack_raw(packed, event->digest, DIGEST_BYTES);
    if (!packed->broken) keep_tree(packed, event);
    if (packed->broken || event_fault(event) != NULL) {
        packed->broken = true;
        return NULL;
    }
    return g_steal_pointer(&event);
}
