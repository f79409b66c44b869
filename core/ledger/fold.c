/* SPDX-License-Identifier: Apache-2.0 */
#include "core/ledger/fold.h"

#include "core/ledger/body.h"
#include "core/ledger/fold_part.h"

void fold_body(const FoldTables *tables, const Event *event, const json_t *body)
{
    static bool (*const PARTS[])(const Fold *) = {
        fold_session, fold_message, fold_reply,    fold_alert,  fold_setting,
        fold_bar,     fold_contact, fold_practice, fold_clinic,
    };
    Fold fold = {.tables = tables, .event = event, .body = json_is_object(body) ? body : NULL};

    g_snprintf(fold.id, sizeof fold.id, "%s:%" G_GINT64_FORMAT, event->replica, event->seq);
    fold_erased(&fold);
    fold_bounded(&fold);
    fold_same(&fold);
    Event as_one = *event;
    as_one.subject = (char *)fold_one(&fold, event->subject);
    fold.event = &as_one;
    for (size_t i = 0; i < G_N_ELEMENTS(PARTS); i++)
        if (PARTS[i](&fold)) return;
}

void fold_event(const FoldTables *tables, const Event *event)
{
    json_t *body = body_read(event->body);

    fold_body(tables, event, body);
    json_decref(body);
}
