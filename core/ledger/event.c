/* SPDX-License-Identifier: Apache-2.0 */
#include "core/ledger/event.h"

#include "core/ledger/body.h"
#include "core/ledger/stamp.h"

Event *event_new(void)
{
    return g_new0(Event, 1);
}

Event *event_copy(const Event *event)
{
    Event *copy = event_new();

    *copy = *event;
    copy->replica = g_strdup(event->replica);
    copy->kind = g_strdup(event->kind);
    copy->subject = g_strdup(event->subject);
    copy->author = g_strdup(event->author);
    copy->base = g_strdup(event->base);
    copy->body = g_strdup(event->body);
    copy->tree = json_incref(event->tree);
    return copy;
}

void event_free(Event *event)
{
    if (event == NULL) return;
    g_free(event->replica);
    g_free(event->kind);
    g_free(event->subject);
    g_free(event->author);
    g_free(event->base);
    g_free(event->body);
    json_decref(event->tree);
    g_free(event);
}

char *event_id(const Event *event)
{
    char digits[24];
    int at = sizeof digits - 1;
    int64_t left = event->seq;

    digits[at] = '\0';
    do
        digits[--at] = (char)('0' + left % 10);
    while ((left /= 10) > 0);
    return g_strconcat(event->replica, ":", digits + at, NULL);
}

int event_compare(const Event *a, const Event *b)
{
    int order = stamp_compare((Stamp){a->wall, a->logical}, (Stamp){b->wall, b->logical});

    return order != 0 ? order : strcmp(a->replica, b->replica);
}

static json_t *hex(const uint8_t *bytes, size_t count)
{
    char text[2 * DIGEST_BYTES + 1];

    g_assert(count <= DIGEST_BYTES);
    for (size_t i = 0; i < count; i++)
        g_snprintf(text + 2 * i, 3, "%02x", bytes[i]);
    return json_string(text);
}

json_t *event_json(const Event *event)
{
    json_t *body = body_read(event->body);

    return json_pack("{s:s, s:I, s:I, s:I, s:s, s:s, s:s, s:s?, s:o, s:o?, s:o, s:o}", "replica",
                     event->replica, "seq", (json_int_t)event->seq, "wall", (json_int_t)event->wall,
                     "logical", (json_int_t)event->logical, "kind", event->kind, "subject",
                     event->subject, "author", event->author, "base", event->base, "salt",
                     hex(event->salt, SALT_BYTES), "body", body, "body_hash",
                     hex(event->body_hash, DIGEST_BYTES), "digest",
                     hex(event->digest, DIGEST_BYTES));
}
