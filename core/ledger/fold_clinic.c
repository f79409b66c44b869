/* SPDX-License-Identifier: Apache-2.0 */
/* What concerns the clinic: replicas, times without listening, digests. */
#include "core/ledger/fold_part.h"

static void put_joined(const Fold *fold)
{
    static const int JOINED[] = {REPLICA_JOINED, REPLICA_NAME, -1};
    g_autoptr(Row) row = fold_row(fold, TABLE_REPLICA, fold->event->subject);
    g_autoptr(Row) told = row_copy(row);

    row_set_int(told, REPLICA_JOINED, fold_at(fold));
    fold_set(fold, told, REPLICA_NAME, "name");
    fold_join(row, told, JOINED, UNIT_LEAST);
    fold_put(fold, row);
}

/* The earliest instant stands. */
static void put_earliest(const Fold *fold, TableId table, int column)
{
    g_autoptr(Row) row = fold_row(fold, table, fold->event->subject);

    if (!row_is_null(row, column) && row_int(row, column) <= fold_at(fold)) return;
    row_set_int(row, column, fold_at(fold));
    fold_put(fold, row);
}

static void put_away(const Fold *fold)
{
    g_autoptr(Row) row = fold_own_row(fold, TABLE_AWAY);

    fold_set(fold, row, AWAY_FROM, "from");
    fold_set(fold, row, AWAY_TO, "to");
    fold_set(fold, row, AWAY_WHY, "why");
    fold_put(fold, row);
}

bool fold_clinic(const Fold *fold)
{
    const char *kind = fold->event->kind;

    if (strcmp(kind, "replica.joined") == 0)
        put_joined(fold);
    else if (strcmp(kind, "replica.cut") == 0)
        put_earliest(fold, TABLE_REPLICA, REPLICA_CUT);
    else if (strcmp(kind, "digest.sent") == 0)
        put_earliest(fold, TABLE_DIGEST, DIGEST_AT);
    else if (strcmp(kind, "sender.away") == 0 && fold->body != NULL)
        put_away(fold);
    else
        return false;
    return true;
}
