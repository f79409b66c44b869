/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/find_people.h"

#include <string.h>

typedef struct {
    SettingEach *each;
    void *context;
    int n;
} SettingLook;

static void lend_setting(const TxResult *result, void *context)
{
    SettingLook *look = context;

    look->n++;
    look->each(result->text[0], result->text[1], look->context);
}

int find_setting_values(Tx *tx, const char *subject, SettingEach *each, void *context)
{
    SettingLook look = {.each = each, .context = context};

    tx_select(tx, "SELECT field, value FROM setting WHERE subject = ?1 ORDER BY field",
              lend_setting, &look, "t", subject);
    return look.n;
}

GPtrArray *find_settings(Tx *tx, const char *subject)
{
    return tx_rows(tx, TABLE_SETTING, "subject = ?1 ORDER BY field", "t", subject);
}

char *find_setting(Tx *tx, const char *subject, const char *field)
{
    g_autoptr(Row) key = row_new(TABLE_SETTING);

    row_set_text(key, SETTING_SUBJECT, subject);
    row_set_text(key, SETTING_FIELD, field);
    g_autoptr(Row) row = tx_get(tx, key);
    return row == NULL ? NULL : g_strdup(row_text(row, SETTING_VALUE));
}

static void add_text(const TxResult *result, void *context)
{
    g_ptr_array_add(context, g_strdup(result->text[0]));
}

static void keep_id(const TxResult *result, void *context)
{
    *(char **)context =
        g_strdup_printf("%s:%" G_GINT64_FORMAT, result->text[0], result->integer[1]);
}

char *find_setting_base(Tx *tx, const char *subject)
{
    char *id = NULL;

    tx_select(
        tx,
        "SELECT replica, seq FROM setting WHERE subject = ?1 ORDER BY wall DESC, logical DESC, "
        "replica DESC LIMIT 1",
        keep_id, &id, "t", subject);
    return id;
}

GPtrArray *find_clients(Tx *tx)
{
    GPtrArray *ids = g_ptr_array_new_with_free_func(g_free);

    tx_select(tx, "SELECT subject FROM setting WHERE field = 'name' ORDER BY subject", add_text,
              ids, "");
    return ids;
}

GPtrArray *find_with_setting(Tx *tx, const char *field, const char *value)
{
    GPtrArray *ids = g_ptr_array_new_with_free_func(g_free);

    tx_select(tx, "SELECT subject FROM setting WHERE field = ?1 AND value = ?2 ORDER BY subject",
              add_text, ids, "tt", field, value);
    return ids;
}

GPtrArray *find_contacts(Tx *tx, const char *client)
{
    return tx_rows(tx, TABLE_CONTACT, "client = ?1 ORDER BY channel", "t", client);
}

GPtrArray *find_contacts_by_address(Tx *tx, const char *address)
{
    GPtrArray *rows =
        tx_rows(tx, TABLE_CONTACT, "address = ?1 ORDER BY client, channel", "t", address);

    /* A number makes two contacts, for texts and for ringing; they are one client all the same. */
    for (guint i = 1; i < rows->len;)
        if (strcmp(row_text(rows->pdata[i], CONTACT_CLIENT),
                   row_text(rows->pdata[i - 1], CONTACT_CLIENT)) == 0)
            g_ptr_array_remove_index(rows, i);
        else
            i++;
    return rows;
}

typedef struct {
    SharedEach *each;
    void *context;
} Sharing;

static void lend_shared(const TxResult *result, void *context)
{
    const Sharing *sharing = context;

    sharing->each(result->text[0], sharing->context);
}

void find_shared_among(Tx *tx, const GPtrArray *addresses, SharedEach *each, void *context)
{
    Sharing sharing = {each, context};

    tx_select_among(tx,
                    "SELECT address FROM contact WHERE address AMONG GROUP BY address HAVING "
                    "count(DISTINCT client) > 1",
                    addresses, lend_shared, &sharing, "");
}

static void keep_became(const TxResult *result, void *context)
{
    *(Became *)context = (Became){result->integer[0], result->integer[1]};
}

Became find_became_client(Tx *tx, const char *client)
{
    Became became = {0, 0};

    tx_select(tx,
              "SELECT wall, logical FROM event WHERE subject = ?1 ORDER BY wall, logical LIMIT 1",
              keep_became, &became, "t", client);
    return became;
}

GPtrArray *find_bars(Tx *tx, const char *client)
{
    return tx_rows(tx, TABLE_BAR, "client = ?1 AND lifted_at IS NULL ORDER BY at, id", "t", client);
}

GPtrArray *find_bars_of_cause(Tx *tx, const char *kind, const char *cause)
{
    return tx_rows(tx, TABLE_BAR,
                   "cause = ?1 AND kind = ?2 AND lifted_at IS NULL ORDER BY client, at, id", "tt",
                   cause, kind);
}

Row *find_screen(Tx *tx, const char *client)
{
    g_autoptr(GPtrArray) rows =
        tx_rows(tx, TABLE_SCREEN, "client = ?1 ORDER BY at DESC, length(id) DESC, id DESC LIMIT 1",
                "t", client);

    return rows->len == 0 ? NULL : row_copy(rows->pdata[0]);
}
