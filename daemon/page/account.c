/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/page/account.h"

#include "adapters/page/password.h"
#include "adapters/store/find_access.h"

char *account_key(const char *name)
{
    g_autofree char *whole = g_utf8_normalize(name, -1, G_NORMALIZE_ALL_COMPOSE);
    g_autofree char *folded = g_utf8_casefold(whole != NULL ? whole : "", -1);
    g_auto(GStrv) words = g_strsplit_set(folded, " \t", -1);
    GString *key = g_string_new(NULL);

    for (char **word = words; *word != NULL; word++)
        if (**word != '\0') g_string_append_printf(key, "%s%s", key->len > 0 ? " " : "", *word);
    return g_string_free(key, FALSE);
}

Row *account_invited(Job *job, const char *token)
{
    g_autoptr(GPtrArray) rows = find_accounts(job->tx);
    g_autofree char *hash = token_hash(token);
    Row *found = NULL;

    for (guint i = 0; i < rows->len; i++)
        if (token_same(row_text(rows->pdata[i], ACCOUNT_INVITE), hash) &&
            row_is_null(rows->pdata[i], ACCOUNT_CLOSED_AT) &&
            row_int(rows->pdata[i], ACCOUNT_INVITE_END) > job->now_ms)
            found = rows->pdata[i];
    return found != NULL ? row_copy(found) : NULL;
}

void account_enter(Job *job, Row *account, const char *hash)
{
    row_set_text(account, ACCOUNT_PASSWORD, hash);
    row_set_null(account, ACCOUNT_INVITE);
    row_set_null(account, ACCOUNT_INVITE_END);
    tx_put(job->tx, account);
}
