#include "reports.h"

static uint32_t bit_of(uint32_t seq)
{
    return (uint32_t)1 << (seq % REPORTS_KEPT);
}

struct report *reports_at(struct reports *reports, uint32_t seq)
{
    return &reports->kept[seq % REPORTS_KEPT];
}

struct report *reports_add(struct reports *reports)
{
    ++reports->newest;
    if (reports->newest - reports->sent > REPORTS_KEPT) {
        ++reports->sent;
        ++reports->lost;
    }
    reports->again &= ~bit_of(reports->newest);
    return reports_at(reports, reports->newest);
}

uint32_t reports_oldest(const struct reports *reports)
{
    return reports->newest > REPORTS_KEPT ? reports->newest - REPORTS_KEPT + 1 : 1;
}

uint32_t reports_next(struct reports *reports)
{
    return reports->sent == reports->newest ? 0 : ++reports->sent;
}

void reports_again(struct reports *reports, uint32_t first, uint32_t last)
{
    uint32_t oldest = reports_oldest(reports);
    if (first < oldest) {
        first = oldest;
    }
    if (last == 0 || last > reports->sent) {
        last = reports->sent;
    }
    for (uint32_t seq = first; seq <= last && seq - first < REPORTS_KEPT; ++seq) {
        reports->again |= bit_of(seq);
    }
}

uint32_t reports_next_again(struct reports *reports)
{
    if (reports->again == 0) {
        return 0;
    }
    uint32_t seq = reports_oldest(reports);
    while (!(reports->again & bit_of(seq))) {
        ++seq;
    }
    reports->again &= ~bit_of(seq);
    return seq;
}
