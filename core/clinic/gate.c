/* SPDX-License-Identifier: Apache-2.0 */
#include "core/clinic/gate.h"

bool message_is_started(MessageKind kind)
{
    return kind == MESSAGE_REMINDER || kind == MESSAGE_NUDGE || kind == MESSAGE_CHECKIN ||
           kind == MESSAGE_WELCOME;
}

bool message_is_exempt(MessageKind kind)
{
    return kind == MESSAGE_STOPPED || kind == MESSAGE_HELP || kind == MESSAGE_SAFETY;
}

/* What forbids the message for good, or NULL. */
static const char *forbids(const GateCase *gate)
{
    bool about_sessions = gate->kind == MESSAGE_REMINDER || gate->kind == MESSAGE_NUDGE ||
                          gate->kind == MESSAGE_CHECKIN || gate->kind == MESSAGE_QUESTION;

    if (gate->erased) return "erased";
    if (message_is_exempt(gate->kind)) return NULL;
    if (!gate->consent) return "no consent to this channel";
    if (gate->stopped) return "opted out";
    if (gate->suspended) return "suspended until a person settles it";
    if (gate->ended && gate->kind != MESSAGE_GOODBYE) return "ended";
    if (about_sessions && gate->held) return "hold";
    if (about_sessions && gate->paused) return "paused";
    return NULL;
}

GateVerdict gate_judge(const GateCase *gate)
{
    if (gate->end_ms != 0 && gate->now_ms >= gate->end_ms)
        return (GateVerdict){.answer = GATE_NEVER, .rule = "its end has passed"};
    if (gate->to_staff) return (GateVerdict){.answer = GATE_GO};

    const char *rule = forbids(gate);
    if (rule != NULL) return (GateVerdict){.answer = GATE_NEVER, .rule = rule};
    if (message_is_exempt(gate->kind)) return (GateVerdict){.answer = GATE_GO};
    if (message_is_started(gate->kind) && gate->sent_today >= gate->per_day_max)
        return (GateVerdict){.answer = GATE_NEVER, .rule = "daily cap"};
    if (!gate->quiet) return (GateVerdict){.answer = GATE_GO};
    if (gate->end_ms != 0 && gate->quiet_over_ms >= gate->end_ms)
        return (GateVerdict){.answer = GATE_NEVER, .rule = "quiet hours until after its end"};
    return (GateVerdict){.answer = GATE_LATER, .at_ms = gate->quiet_over_ms, .rule = "quiet hours"};
}
