/* SPDX-License-Identifier: Apache-2.0 */
#include "core/wire/message.h"

static const char *const KINDS[] = {
    [MESSAGE_WELCOME] = "welcome", [MESSAGE_REMINDER] = "reminder", [MESSAGE_NUDGE] = "nudge",
    [MESSAGE_ANSWER] = "answer",   [MESSAGE_QUESTION] = "question", [MESSAGE_SAFETY] = "safety",
    [MESSAGE_STOPPED] = "stopped", [MESSAGE_HELP] = "help",         [MESSAGE_CHECKIN] = "checkin",
    [MESSAGE_ALERT] = "alert",     [MESSAGE_UPDATE] = "update",     [MESSAGE_DIGEST] = "digest",
    [MESSAGE_GOODBYE] = "goodbye",
};

static const char *const CHANNELS[] = {
    [CHANNEL_SMS] = "sms",
    [CHANNEL_EMAIL] = "email",
    [CHANNEL_PHONE] = "phone",
};

static const char *const FATES[] = {
    [FATE_WAITING] = "waiting",     [FATE_WRITING] = "writing", [FATE_ACCEPTED] = "accepted",
    [FATE_DELIVERED] = "delivered", [FATE_REFUSED] = "refused", [FATE_FAILED] = "failed",
    [FATE_LAPSED] = "lapsed",       [FATE_UNSURE] = "unsure",
};

#define BIT(fate) (1u << (fate))

/* The lifecycle of message.h as a table. An unsure message may be asked about or repeated by
 * policy, and a late receipt may still tell what became of it; the rest are ends. */
static const unsigned NEXT[] = {
    [FATE_WAITING] = BIT(FATE_WRITING) | BIT(FATE_FAILED) | BIT(FATE_LAPSED) | BIT(FATE_UNSURE),
    [FATE_WRITING] = BIT(FATE_ACCEPTED) | BIT(FATE_WAITING) | BIT(FATE_REFUSED) | BIT(FATE_FAILED) |
                     BIT(FATE_LAPSED) | BIT(FATE_UNSURE),
    [FATE_ACCEPTED] = BIT(FATE_DELIVERED) | BIT(FATE_FAILED),
    [FATE_DELIVERED] = 0,
    [FATE_REFUSED] = 0,
    [FATE_FAILED] = 0,
    [FATE_LAPSED] = 0,
    [FATE_UNSURE] = BIT(FATE_WAITING) | BIT(FATE_ACCEPTED) | BIT(FATE_DELIVERED) | BIT(FATE_FAILED),
};

static bool find(const char *const *names, size_t n, const char *name, int *index)
{
    for (size_t i = 0; name != NULL && i < n; i++)
        if (strcmp(names[i], name) == 0) {
            *index = (int)i;
            return true;
        }
    return false;
}

const char *message_kind_name(MessageKind kind)
{
    g_assert((size_t)kind < G_N_ELEMENTS(KINDS));
    return KINDS[kind];
}

bool message_kind_from_name(const char *name, MessageKind *kind)
{
    int index;

    if (!find(KINDS, G_N_ELEMENTS(KINDS), name, &index)) return false;
    *kind = (MessageKind)index;
    return true;
}

const char *channel_name(Channel channel)
{
    g_assert((size_t)channel < G_N_ELEMENTS(CHANNELS));
    return CHANNELS[channel];
}

bool channel_from_name(const char *name, Channel *channel)
{
    int index;

    if (!find(CHANNELS, G_N_ELEMENTS(CHANNELS), name, &index)) return false;
    *channel = (Channel)index;
    return true;
}

const char *fate_name(Fate fate)
{
    g_assert((size_t)fate < G_N_ELEMENTS(FATES));
    return FATES[fate];
}

bool fate_from_name(const char *name, Fate *fate)
{
    int index;

    if (!find(FATES, G_N_ELEMENTS(FATES), name, &index)) return false;
    *fate = (Fate)index;
    return true;
}

bool fate_may_become(Fate from, Fate to)
{
    g_assert((size_t)from < G_N_ELEMENTS(NEXT) && (size_t)to < G_N_ELEMENTS(NEXT));
    return (NEXT[from] & BIT(to)) != 0;
}

void settlement_clear(Settlement *settlement)
{
    g_clear_pointer(&settlement->gateway_id, g_free);
    g_clear_pointer(&settlement->reason, g_free);
}

void incoming_free(Incoming *incoming)
{
    if (incoming == NULL) return;
    g_free(incoming->id);
    g_free(incoming->from);
    g_free(incoming->text);
    g_free(incoming->raw);
    g_free(incoming->problem);
    g_free(incoming->ref);
    g_free(incoming->subject);
    g_free(incoming);
}

void receipt_free(Receipt *receipt)
{
    if (receipt == NULL) return;
    g_free(receipt->gateway_id);
    g_free(receipt->message);
    g_free(receipt->reason);
    g_free(receipt);
}
