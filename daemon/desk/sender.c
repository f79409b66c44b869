/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/desk/sender.h"

#include <string.h>

#include "core/calendar/date.h"
#include "core/ledger/fold.h"

/* In meta: set once this replica has joined a clinic that another began. */
#define JOINED "joined"

static Row *duty_row(Tx *tx)
{
    g_autoptr(Row) key = row_new(TABLE_SETTING);

    row_set_text(key, SETTING_SUBJECT, "clinic");
    row_set_text(key, SETTING_FIELD, "sender");
    return tx_get(tx, key);
}

/* Nobody took the duty by command: the replica that began the clinic has it. */
static bool is_first(Tx *tx)
{
    g_autofree char *joined = tx_meta(tx, JOINED);

    return joined == NULL;
}

static json_t *duty_of(const Row *row)
{
    const char *value = row != NULL ? row_text(row, SETTING_VALUE) : NULL;

    return value != NULL ? json_loads(value, JSON_DECODE_ANY, NULL) : NULL;
}

static const char *text_of(const json_t *duty, const char *field)
{
    return json_string_value(json_object_get(duty, field));
}

bool sender_is_here(Tx *tx)
{
    g_autoptr(Row) row = duty_row(tx);

    if (row == NULL) return is_first(tx);
    json_t *duty = duty_of(row);
    bool here = g_strcmp0(text_of(duty, "replica"), tx_replica(tx)) == 0;
    json_decref(duty);
    return here;
}

static bool keep_epoch(const Event *event, void *context)
{
    json_t *body = event->body != NULL ? json_loads(event->body, 0, NULL) : NULL;

    *(int64_t *)context = MAX(*(int64_t *)context, duty_epoch(body));
    json_decref(body);
    return true;
}

Sender *sender_load(Tx *tx)
{
    Sender *sender = g_new0(Sender, 1);
    g_autoptr(Row) row = duty_row(tx);
    json_t *duty = duty_of(row);

    sender->served = -1;
    tx_events(tx, "subject = 'clinic' AND kind = 'sender.taken' AND replica = ?1", keep_epoch,
              &sender->served, "t", tx_replica(tx));
    if (row == NULL) {
        sender->here = is_first(tx);
        sender->replica = sender->here ? g_strdup(tx_replica(tx)) : NULL;
        if (sender->here) sender->served = 0;
    } else {
        sender->replica = g_strdup(text_of(duty, "replica"));
        sender->by = g_strdup(text_of(duty, "by"));
        sender->epoch = duty_epoch(duty);
        sender->since = row_int(row, SETTING_WALL);
        sender->here = g_strcmp0(sender->replica, tx_replica(tx)) == 0;
        if (sender->served < 0 && is_first(tx)) sender->served = 0;
    }
    json_decref(duty);
    return sender;
}

void sender_free(Sender *sender)
{
    if (sender == NULL) return;
    g_free(sender->replica);
    g_free(sender->by);
    g_free(sender);
}

char *replica_name(Tx *tx, const char *replica)
{
    g_autoptr(Row) key = row_new(TABLE_SETTING);

    row_set_text(key, SETTING_SUBJECT, replica);
    row_set_text(key, SETTING_FIELD, "replica.name");
    g_autoptr(Row) row = tx_get(tx, key);
    const char *value = row != NULL ? row_text(row, SETTING_VALUE) : NULL;
    json_t *name = value != NULL ? json_loads(value, JSON_DECODE_ANY, NULL) : NULL;
    const char *text = json_string_value(name);
    char *found = g_strdup(text != NULL && *text != '\0' ? text : replica);
    json_decref(name);
    return found;
}

char *sender_why_not(Tx *tx, const Sender *sender)
{
    if (sender->here) return NULL;
    if (sender->replica == NULL)
        return g_strdup("no replica of this clinic has the duty to send; give it to one with: "
                        "osier sender take --by NAME");
    g_autofree char *name = replica_name(tx, sender->replica);
    g_autofree char *since = instant_format(sender->since);
    if (sender->served < 0)
        return g_strdup_printf("%s sends for this clinic (epoch %" G_GINT64_FORMAT
                               ", since %s); this replica records what is entered",
                               name, sender->epoch, since);
    return g_strdup_printf("this replica sent at epoch %" G_GINT64_FORMAT
                           "; %s took the duty at epoch %" G_GINT64_FORMAT
                           " (%s). To have it back: osier sender take --by NAME",
                           sender->served, name, sender->epoch, since);
}

void sender_join(Tx *tx)
{
    tx_set_meta(tx, JOINED, "1");
}
