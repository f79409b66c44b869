/* SPDX-License-Identifier: Apache-2.0 */
/* Registers: the last writer of each field wins, and every value that lost is kept, so that a
 * conflict can be shown. */
#include "core/ledger/fold_part.h"

static const StampColumns WINNER = {SETTING_WALL, SETTING_LOGICAL, SETTING_REPLICA, SETTING_SEQ};
static const StampColumns ADDRESS = {CONTACT_WALL, CONTACT_LOGICAL, CONTACT_REPLICA, CONTACT_SEQ};
static const StampColumns CONSENT = {CONTACT_C_WALL, CONTACT_C_LOGICAL, CONTACT_C_REPLICA,
                                     CONTACT_C_SEQ};

static Row *pair(const Fold *fold, TableId table, const char *first, const char *second)
{
    Row *fresh = row_new(table);

    row_set_text(fresh, 0, first);
    row_set_text(fresh, 1, second);
    Row *found = fold->tables->get(fold->tables->context, fresh);
    if (found == NULL) return fresh;
    row_free(fresh);
    return found;
}

static void keep_lost(const Fold *fold, const Row *loser)
{
    static const int LOST_OF[][2] = {
        {SETTING_LOST_SUBJECT, SETTING_SUBJECT}, {SETTING_LOST_FIELD, SETTING_FIELD},
        {SETTING_LOST_REPLICA, SETTING_REPLICA}, {SETTING_LOST_SEQ, SETTING_SEQ},
        {SETTING_LOST_VALUE, SETTING_VALUE},     {SETTING_LOST_WALL, SETTING_WALL},
        {SETTING_LOST_LOGICAL, SETTING_LOGICAL}, {SETTING_LOST_BASE, SETTING_BASE},
    };
    g_autoptr(Row) lost = row_new(TABLE_SETTING_LOST);

    for (size_t i = 0; i < G_N_ELEMENTS(LOST_OF); i++)
        row_copy_value(lost, LOST_OF[i][0], loser, LOST_OF[i][1]);
    fold_put(fold, lost);
}

static bool is_same_write(const Fold *fold, const Row *row)
{
    return !row_is_null(row, SETTING_WALL) && row_int(row, SETTING_SEQ) == fold->event->seq &&
           strcmp(row_text(row, SETTING_REPLICA), fold->event->replica) == 0;
}

/* A slip or a lie counts as none. */
int64_t duty_epoch(const json_t *body)
{
    int64_t epoch = json_integer_value(json_object_get(body, "epoch"));

    return epoch >= 0 && epoch <= EPOCH_MAX ? epoch : 0;
}

static int64_t epoch_held(const Row *held)
{
    const char *text = row_text(held, SETTING_VALUE);
    json_t *duty = text != NULL ? json_loads(text, JSON_DECODE_ANY, NULL) : NULL;
    int64_t epoch = duty_epoch(duty);

    json_decref(duty);
    return epoch;
}

/* The later write wins; of two that took the sender's duty the greater epoch does, whatever their clocks say. */
static bool is_winner(const Fold *fold, const Row *held, const json_t *value)
{
    if (!row_is_null(held, SETTING_WALL) &&
        strcmp(row_text(held, SETTING_SUBJECT), "clinic") == 0 &&
        strcmp(row_text(held, SETTING_FIELD), "sender") == 0) {
        int64_t before = epoch_held(held), now = duty_epoch(value);

        if (now != before) return now > before;
    }
    return fold_is_later(fold, held, WINNER);
}

static void write_field(const Fold *fold, const char *field, const json_t *value)
{
    g_autoptr(Row) held = pair(fold, TABLE_SETTING, fold->event->subject, field);
    bool is_first = row_is_null(held, SETTING_WALL);

    if (is_same_write(fold, held)) return;
    g_autoptr(Row) written = row_new(TABLE_SETTING);
    g_autofree char *text = value == NULL || json_is_null(value) ? NULL : fold_dump(value);
    row_set_text(written, SETTING_SUBJECT, fold->event->subject);
    row_set_text(written, SETTING_FIELD, field);
    row_set_text(written, SETTING_VALUE, text);
    row_set_text(written, SETTING_BASE, fold->event->base);
    fold_set_stamp(fold, written, WINNER);
    if (!is_winner(fold, held, value)) {
        keep_lost(fold, written);
        return;
    }
    if (!is_first) keep_lost(fold, held);
    fold_put(fold, written);
}

static void write_address(const Fold *fold, const char *channel, const json_t *value)
{
    g_autoptr(Row) row = pair(fold, TABLE_CONTACT, fold->event->subject, channel);
    const char *address = fold_string(value);

    if (!fold_is_later(fold, row, ADDRESS)) return;
    row_set_text(row, CONTACT_ADDRESS, address != NULL && address[0] != '\0' ? address : NULL);
    fold_set_stamp(fold, row, ADDRESS);
    fold_put(fold, row);
}

/* A number serves for texts and for ringing alike. */
static void write_contact(const Fold *fold, const char *field, const json_t *value)
{
    if (strcmp(field, "phone") == 0) {
        write_address(fold, "sms", value);
        write_address(fold, "phone", value);
    } else if (strcmp(field, "email") == 0) {
        write_address(fold, "email", value);
    }
}

static void write_fields(const Fold *fold, const char *prefix, const char *but)
{
    json_t *fields = (json_t *)fold_value(fold, "fields");
    const char *name;
    json_t *value;

    json_object_foreach(fields, name, value)
    {
        if (but != NULL && strcmp(name, but) == 0) continue;
        g_autofree char *field = g_strconcat(prefix, name, NULL);
        write_field(fold, field, value);
        if (prefix[0] == '\0') write_contact(fold, name, value);
    }
}

bool fold_setting(const Fold *fold)
{
    const char *kind = fold->event->kind;

    /* The clinic is nobody: the duty to send is all that it has, no name, address or plan. */
    if (strcmp(fold->event->subject, "clinic") == 0 && strcmp(kind, "sender.taken") != 0)
        return false;
    if (strcmp(kind, "client.set") == 0) {
        write_fields(fold, "", NULL);
    } else if (strcmp(kind, "plan.set") == 0) {
        write_fields(fold, "plan.", NULL);
    } else if (strcmp(kind, "plan.move") == 0) {
        const json_t *stage = fold_value(fold, "stage");

        if (stage != NULL) write_field(fold, "plan.stage", stage);
        write_fields(fold, "plan.", stage != NULL ? "stage" : NULL);
    } else if (strcmp(kind, "replica.set") == 0) {
        write_fields(fold, "replica.", NULL);
    } else if (strcmp(kind, "sender.taken") == 0) {
        if (fold->body != NULL) write_field(fold, "sender", fold->body);
    } else {
        return false;
    }
    return true;
}

bool fold_contact(const Fold *fold)
{
    if (strcmp(fold->event->kind, "client.consent") != 0) return false;
    const char *channel = fold_text(fold, "channel");
    if (channel == NULL) return true;
    g_autoptr(Row) row = pair(fold, TABLE_CONTACT, fold->event->subject, channel);
    if (fold_is_later(fold, row, CONSENT)) {
        fold_set(fold, row, CONTACT_CONSENT, "text");
        fold_set(fold, row, CONTACT_CONSENT_BY, "by");
        row_set_int(row, CONTACT_CONSENT_AT, fold_at(fold));
        fold_set_stamp(fold, row, CONSENT);
        fold_put(fold, row);
    }
    return true;
}
