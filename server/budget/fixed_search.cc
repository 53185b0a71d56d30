// Prices, plans, then best-first branching on what is paid.
//
//   1 Frugal. Weights on the resources, no loss: some plan that fits, or the proof that no mixture of plans does.
//   2 Prices. The best bound with the links dualised, from the prices of a problem whose fixed costs are decided as w
//     suggests at the prices before.
//   3 Plans. What w suggests, what the mixed plans of the relaxed optimum pay, and single changes of the best of them,
//     those first about which w is least sure; each solved without fixed costs.
//   4 Branch. A state decides some terms. Visiting it raises its bound from the parent's prices, decides every other
//     term of which one side is ruled out, and splits on the one that the relaxed optimum mixes most. Where all is
//     decided the rest is solved as a problem without fixed costs, and its bound is the state's.
//
// Every state that is closed leaves its bound behind; the least of them is proved.

#include "server/budget/fixed_search.h"

#include <algorithm>
#include <numeric>
#include <optional>
#include <queue>
#include <utility>
#include <vector>

#include "server/budget/fixed_dual.h"
#include "server/budget/fixed_plans.h"
#include "server/budget/fixed_terms.h"
#include "server/budget/pricing.h"

namespace scantling::budget {
namespace {

constexpr int64_t kWork = 40'000'000;     // nodes and users looked at by passes of the branching, at most
constexpr int64_t kPlanWork = 3'000'000;  // nodes of problems solved for plans before the branching, at most
constexpr int64_t kFewestPlans = 8;       // but so many in any case
constexpr int64_t kMostPlans = 100;
constexpr int kRounds = 3;  // of deciding and pricing again before the search for prices
constexpr int kRootPasses = 40;
constexpr int kPasses = 10;       // per state
constexpr int64_t kTryEvery = 8;  // states between two that try a plan, after the first kFirstTries
constexpr int64_t kFirstTries = 32;
constexpr double kMixed = 1e-7;  // least share of a plan in the mixture, above the rounding of the programme

struct State {
  Wide bound = 0;
  int64_t id = 0;
  PaidChoice choice;
  Prices prices;
  std::vector<uint8_t> guess;
  std::vector<LinkedCut> known;
};

struct Later {
  bool operator()(const State& a, const State& b) const { return a.bound != b.bound ? a.bound > b.bound : a.id > b.id; }
};

class PaidSearch {
 public:
  PaidSearch(const Problem& problem, const Core& core, const Outcome& least, const Effort& effort, const Stop& stop)
      : problem_(problem),
        capacity_(problem.capacity),
        effort_(effort),
        stop_(stop),
        core_(WithSets(core, core.sets)),
        least_(least),
        terms_(TermsOf(problem, PlacesOf(core))),
        plans_(problem, core_, terms_, stop),
        closed_(kMaxTotal) {
    for (const Term& term : terms_) evaluation_work_ += static_cast<int64_t>(term.users.size());
    evaluation_work_ += core.size();
  }

  absl::StatusOr<Solution> Run() {
    bound_ = least_.loss;
    if (!Open() || !FindFrugal()) return NothingFits();
    if (Going()) Price();
    if (Going()) MakePlans();
    if (Going()) BranchOut();
    return Finish();
  }

 private:
  bool Going() const { return !stop_.Requested(); }

  static absl::Status NothingFits() {
    return absl::FailedPreconditionError("no plan meets the capacities: it is proved that none exists");
  }

  // Decides what no plan can pay. False where nothing is left.
  bool Open() {
    RemoveOversized(capacity_, &core_);
    root_.choice.assign(terms_.size(), Paid::kUndecided);
    for (size_t a = 0; a < terms_.size(); ++a) {
      for (int k = 0; k < core_.resources; ++k) {
        if (capacity_[k] && terms_[a].cost[k] > *capacity_[k]) root_.choice[a] = Paid::kNo;
      }
    }
    root_.guess.assign(terms_.size(), 1);
    return RemoveUnpaid(core_, terms_, root_.choice, &core_.sets);
  }

  // False where it is proved that no plan fits.
  bool FindFrugal() {
    LinkedOptions options;
    options.low.loss_weight = options.high.loss_weight = 0;
    for (int k = 0; k < core_.resources; ++k) {
      if (!capacity_[k]) continue;
      options.high.per_unit[k] = std::max<int64_t>(1, kMaxWeight / std::max<int64_t>(*capacity_[k], 1));
    }
    options.start = options.high;
    options.enough = 1;
    options.guess = root_.guess;
    LinkedDual dual = MaximiseLinkedDual(core_, terms_, root_.choice, capacity_, options, stop_);
    if (dual.evaluated && dual.bound > 0) return false;
    if (dual.plan) {
      frugal_ = dual.plan->outcome;
      plans_.Offer(dual.plan->level);
      frugal_paid_ = plans_.BestPaid();
    }
    return true;
  }

  // The prices of the problem in which the guess is decided; false where there are none.
  bool PriceGuess(const std::vector<uint8_t>& guess, Prices* prices) {
    PaidChoice choice(terms_.size(), Paid::kNo);
    Capacities capacity = capacity_;
    for (size_t a = 0; a < terms_.size(); ++a) {
      if (guess[a] == 0) continue;
      choice[a] = Paid::kYes;
      for (int k = 0; k < core_.resources; ++k) {
        if (capacity[k] && (*capacity[k] -= terms_[a].cost[k]) < 0) return false;
      }
    }
    Core restricted = WithSets(core_, core_.sets);
    if (!RemoveUnpaid(core_, terms_, choice, &restricted.sets)) return false;
    PricingOptions options;
    options.high = high_;
    options.tolerance = std::max(0.25, 1e-6 * static_cast<double>(least_.loss));
    const DualResult dual = FindPrices(restricted, capacity, options, stop_);
    *prices = dual.prices;
    return !dual.interrupted;
  }

  // Prices near enough to the best ones to start from.
  Prices StartPrices() {
    Prices prices;
    prices.loss_weight = high_.loss_weight;
    std::vector<uint8_t> guess = root_.guess;
    const PaidChoice& choice = root_.choice;
    LinkedPass pass(core_, terms_, choice);
    for (int round = 0; round < kRounds; ++round) {
      LinkedBound here;
      const std::vector<uint8_t> before = guess;
      if (round > 0 && (!pass.Run(prices, 0, stop_, &guess, &here) || guess == before)) break;
      if (round == 0 ? !PriceFree(&prices) : !PriceGuess(guess, &prices)) break;
    }
    root_.guess = guess;
    return prices;
  }

  // The prices of the problem in which nothing is charged for terms.
  bool PriceFree(Prices* prices) {
    PricingOptions options;
    options.high = high_;
    options.tolerance = std::max(0.25, 1e-6 * static_cast<double>(least_.loss));
    const DualResult dual = FindPrices(core_, capacity_, options, stop_);
    *prices = dual.prices;
    return !dual.interrupted;
  }

  void Price() {
    high_ = HighestPrices(core_, capacity_, least_, frugal_ ? &*frugal_ : nullptr);
    root_.prices = StartPrices();
    if (!Going()) return;
    LinkedDual dual = Bound(root_, core_, kRootPasses);
    if (dual.evaluated) Learn(std::move(dual), &root_);
  }

  void Learn(LinkedDual dual, State* state) {
    state->bound = std::max(state->bound, dual.bound);
    state->prices = dual.prices;
    state->guess = dual.guess;
    state->known = dual.cuts;
    if (dual.plan) plans_.Offer(dual.plan->level);
    last_ = std::move(dual);
  }

  // The bound of a state from its own prices on, in a box that grows where its border is met.
  LinkedDual Bound(const State& state, const Core& core, int passes) {
    LinkedOptions options;
    options.start = options.low = options.high = state.prices;
    options.max_passes = passes;
    options.guess = state.guess;
    options.known = state.known;
    if (plans_.best()) options.enough = Wide{Limit() - 1} * high_.loss_weight + 1;
    LinkedDual dual;
    for (int64_t part : {8, 2, 0}) {
      for (int k = 0; k < core_.resources; ++k) {
        if (!capacity_[k]) continue;
        const int64_t price = options.start.per_unit[k], highest = high_.per_unit[k];
        const int64_t half = part == 0 ? highest : std::max(price / part, highest / 4096);
        options.low.per_unit[k] = std::max<int64_t>(0, price - half);
        options.high.per_unit[k] = std::max(price, std::min(highest, price + half));
      }
      dual = MaximiseLinkedDual(core, terms_, state.choice, capacity_, options, stop_);
      evaluations_ += passes;
      if (dual.interrupted || (options.enough && dual.bound >= *options.enough) || !OnBorder(dual, options)) break;
      options.start = dual.prices;
      options.guess = dual.guess;
      options.known = dual.cuts;
    }
    return dual;
  }

  bool OnBorder(const LinkedDual& dual, const LinkedOptions& options) const {
    for (int k = 0; k < core_.resources; ++k) {
      const int64_t price = dual.prices.per_unit[k];
      if (price == options.low.per_unit[k] && price > 0) return true;
      if (price == options.high.per_unit[k] && price < high_.per_unit[k]) return true;
    }
    return false;
  }

  // States whose bound reaches this are of no use.
  int64_t Limit() const {
    if (!plans_.best()) return kMaxTotal;
    const int64_t loss = plans_.best()->loss;
    return loss - static_cast<int64_t>(effort_.target_gap * static_cast<double>(loss));
  }

  int64_t Loss(Wide bound) const { return CeilingOf(bound, high_.loss_weight); }
  bool Useless(Wide bound) const { return bound >= kNever || Loss(bound) >= Limit(); }

  // Remembers the bound of plans that are not looked at any more.
  void Close(Wide bound) {
    if (bound < kNever) closed_ = std::min(closed_, Loss(bound));
  }

  Effort Modest() const {
    Effort effort = effort_;
    effort.branch_nodes = 0;
    return effort;
  }

  void MakePlans() {
    int64_t left = std::clamp(kPlanWork / std::max(core_.size(), 1), kFewestPlans, kMostPlans);
    const auto attempt = [&](const std::vector<uint8_t>& paid) {
      if (left <= 0 || !Going() || Useless(root_.bound)) return;
      --left;
      plans_.Try(paid, Modest());
    };
    attempt(root_.guess);
    for (const LinkedCut& cut : root_.known) {
      if (cut.share > kMixed) attempt(cut.paid);
    }
    if (!plans_.best()) return;
    if (frugal_ && plans_.best()->loss >= frugal_->loss) attempt(frugal_paid_);
    for (const int32_t a : LeastSureFirst()) {
      std::vector<uint8_t> paid = plans_.BestPaid();
      paid[a] ^= 1;
      attempt(paid);
    }
  }

  std::vector<int32_t> LeastSureFirst() const {
    std::vector<int32_t> order;
    for (size_t a = 0; a < terms_.size(); ++a) {
      if (root_.choice[a] == Paid::kUndecided) order.push_back(static_cast<int32_t>(a));
    }
    const auto apart = [&](int32_t a) {
      const Wide apart = last_.if_paid[a] - last_.if_unpaid[a];
      return apart < 0 ? -apart : apart;
    };
    std::stable_sort(order.begin(), order.end(), [&](int32_t a, int32_t b) { return apart(a) < apart(b); });
    return order;
  }

  void BranchOut() {
    if (effort_.branch_nodes == 0) return Close(root_.bound);
    Decide(&root_);
    open_.push(root_);
    while (!open_.empty()) {
      if (Useless(open_.top().bound)) {
        Close(open_.top().bound);
        open_.pop();
        continue;
      }
      if (!Going() || visited_ + branched_ >= effort_.branch_nodes) break;
      if (visited_ > 0 && evaluations_ * evaluation_work_ > kWork) break;
      State state = open_.top();
      open_.pop();
      ++visited_;
      Visit(std::move(state));
    }
    if (!open_.empty()) Close(open_.top().bound);
  }

  // Decides the terms of which one side is useless, by the last bounds of this very state.
  void Decide(State* state) {
    for (size_t a = 0; a < terms_.size(); ++a) {
      if (state->choice[a] != Paid::kUndecided) continue;
      const bool no = Useless(last_.if_paid[a]), yes = Useless(last_.if_unpaid[a]);
      if (no) Close(last_.if_paid[a]);
      if (yes) Close(last_.if_unpaid[a]);
      if (no || yes) state->choice[a] = no ? Paid::kNo : Paid::kYes;
    }
  }

  void Visit(State state) {
    Core core = WithSets(core_, core_.sets);
    if (!RemoveUnpaid(core_, terms_, state.choice, &core.sets)) return;
    LinkedDual dual = Bound(state, core, kPasses);
    if (dual.interrupted || !dual.evaluated) return Close(state.bound);
    Learn(std::move(dual), &state);
    if (visited_ <= kFirstTries || visited_ % kTryEvery == 0) plans_.Try(state.guess, Modest());
    if (Useless(state.bound)) return Close(state.bound);
    Decide(&state);
    const int32_t split = ChooseSplit(state);
    if (split < 0) return Finish(state);
    for (const Paid paid : {Paid::kNo, Paid::kYes}) {
      State child = state;
      child.choice[split] = paid;
      child.guess[split] = paid == Paid::kYes ? 1 : 0;
      child.bound = std::max(state.bound, paid == Paid::kYes ? last_.if_paid[split] : last_.if_unpaid[split]);
      Push(std::move(child), split);
    }
  }

  void Push(State child, int32_t split) {
    if (child.bound >= kNever) return;
    const uint8_t paid = child.choice[split] == Paid::kYes ? 1 : 0;
    std::erase_if(child.known,
                  [&](const LinkedCut& cut) { return !Allows(child.choice, cut) || cut.paid[split] != paid; });
    child.id = ++pushed_;
    open_.push(std::move(child));
  }

  static bool Allows(const PaidChoice& choice, const LinkedCut& cut) {
    for (size_t a = 0; a < choice.size(); ++a) {
      if (choice[a] != Paid::kUndecided && (choice[a] == Paid::kYes) != (cut.paid[a] != 0)) return false;
    }
    return true;
  }

  // The undecided term that the relaxed optimum mixes most, weighed by its price; -1: all is decided.
  int32_t ChooseSplit(const State& state) const {
    int32_t best = -1;
    double best_score = -1;
    for (size_t a = 0; a < terms_.size(); ++a) {
      if (state.choice[a] != Paid::kUndecided) continue;
      double yes = 0, no = 0;
      for (const LinkedCut& cut : state.known) {
        if (cut.share > kMixed) (cut.paid[a] != 0 ? yes : no) += cut.share;
      }
      const double price =
          static_cast<double>(PricedRow(state.prices, terms_[a].loss, terms_[a].cost.data(), core_.resources));
      const Wide apart = last_.if_paid[a] - last_.if_unpaid[a];
      const double unsure = price / (1 + static_cast<double>(apart < 0 ? -apart : apart));
      const double score = std::min(yes, no) * price * 1e6 + unsure;
      if (score <= best_score) continue;
      best_score = score;
      best = static_cast<int32_t>(a);
    }
    return best;
  }

  // All is decided: the rest is a problem without fixed costs.
  void Finish(const State& state) {
    std::vector<uint8_t> paid;
    for (const Paid choice : state.choice) paid.push_back(choice == Paid::kYes ? 1 : 0);
    plans_.Try(paid, Modest());
    if (Useless(state.bound)) return Close(state.bound);
    Effort effort = effort_;
    effort.branch_nodes = std::max<int64_t>(1, effort_.branch_nodes - branched_ - visited_);
    const PaidPlans::Proof proof = plans_.Try(paid, effort);
    branched_ += proof.branched;
    if (!proof.none) closed_ = std::min(closed_, std::max(proof.bound, Loss(state.bound)));
  }

  absl::StatusOr<Solution> Finish() {
    if (root_.bound > 0) bound_ = std::max(bound_, Loss(root_.bound));
    if (!plans_.best()) {
      if (!Going()) {
        return stop_.Cancelled() ? absl::CancelledError("cancelled before any plan was found")
                                 : absl::DeadlineExceededError("the deadline passed before any plan was found");
      }
      if (visited_ > 0 && closed_ == kMaxTotal) return NothingFits();
      return absl::FailedPreconditionError(
          "no plan was found that meets the capacities, though none was proved not to exist");
    }
    if (Going() && Gap() && effort_.branch_nodes > branched_ + visited_) {
      plans_.Try(plans_.BestPaid(), effort_);
    }
    Solution solution = *plans_.best();
    if (visited_ > 0) bound_ = std::max(bound_, closed_);
    solution.bound = std::min(bound_, solution.loss);
    solution.proved_optimal = solution.bound == solution.loss;
    solution.interrupted = !solution.proved_optimal && !Going();
    solution.price.clear();
    for (int k = 0; k < problem_.resources; ++k) {
      solution.price.push_back(static_cast<double>(root_.prices.per_unit[k]) /
                               static_cast<double>(root_.prices.loss_weight));
    }
    solution.branched = visited_ + branched_;
    return solution;
  }

  bool Gap() const { return std::max(bound_, visited_ > 0 ? closed_ : 0) < Limit(); }

  const Problem& problem_;
  const Capacities& capacity_;
  const Effort& effort_;
  const Stop& stop_;
  Core core_;
  const Outcome least_;
  const std::vector<Term> terms_;
  PaidPlans plans_;
  std::optional<Outcome> frugal_;
  std::vector<uint8_t> frugal_paid_;
  Prices high_;
  State root_;
  LinkedDual last_;  // of the state looked at last
  std::priority_queue<State, std::vector<State>, Later> open_;
  int64_t closed_;  // least bound of what was left unsearched
  int64_t bound_ = 0;
  int64_t pushed_ = 0, visited_ = 0, branched_ = 0, evaluations_ = 0, evaluation_work_ = 0;
};

}  // namespace

absl::StatusOr<Solution> SearchPaid(const Problem& problem, const Core& core, const Outcome& least,
                                    const Effort& effort, const Stop& stop) {
  return PaidSearch(problem, core, least, effort, stop).Run();
}

}  // namespace scantling::budget
